//! What the columns of packing lists are headed with, in the languages of the trade.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use unicode_normalization::UnicodeNormalization;

use crate::quantity::Currency;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    /// The slab's number.
    Slab,
    /// A running number, which is the slab's where no other column is.
    Serial,
    /// The bundle.
    Bundle,
    /// The block.
    Block,
    /// The longer side.
    Length,
    /// The other side.
    Height,
    /// The other side, where the list has no height beside it.
    Width,
    /// Both sides in one cell.
    Size,
    /// The thickness.
    Thickness,
    /// The area.
    Area,
    /// The volume.
    Volume,
    /// A mass.
    Mass,
    /// How many slabs a row is of.
    Count,
    /// The stone.
    Stone,
    /// The finish.
    Finish,
    /// The quality.
    Quality,
    /// A remark.
    Remark,
    /// The place in the block's sawing order.
    Order,
    /// The set of book-matched slabs.
    Match,
    /// The container.
    Container,
    /// A price per unit.
    Price,
    /// An amount.
    Amount,
}

/// What a header says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Heading {
    /// What the column holds.
    pub word: Word,
    /// Whether it is the net figure (what is billed) or the gross one, where it says so.
    pub is_net: Option<bool>,
    /// The unit of its figures, where it says so, by this program's word for it.
    pub unit: Option<&'static str>,
}

/// Words that may stand among others, by what they say: English, Italian, Portuguese, Spanish, Turkish, French,
/// German and Chinese (from memory).
const WORDS: [(Word, &str); 22] = [
    (
        Word::Slab,
        "slab,slabs no,slab nos,piece,pc no,plate,lastra,lastre,tabla,tablas,placa,plancha,chapa,chapas,plaka,plaka no,levha,tranche,tafel,platte,板号,片号,大板号,板材编号",
    ),
    (Word::Serial, "serial,s no,sl no,sr no,item,sira,sira no,pos,posizione,lfd nr,序号,编号,序"),
    (
        Word::Bundle,
        "bundle,bundles no,crate,pallet,pack,package,frame,a frame,rack,case,bdl,bndl,pacco,pacchi,cavalletto,cassa,fardo,paquete,bulto,atado,caballete,cavalete,bund,bundel,bandil,bagaj,paket,sehpa,kasa,paquet,bundle nr,捆号,捆,架号,扎号,件号,箱号,包号",
    ),
    (Word::Block, "block,blk,blocco,bloque,bloco,blok,bloc,荒料号,荒料,块号"),
    (
        Word::Length,
        "length,len,long,lunghezza,lungh,lung,largo,longitud,comprimento,compr,comp,boy,uzunluk,longueur,lange,laenge,长度,长",
    ),
    (
        Word::Height,
        "height,ht,high,altezza,alt,alto,altura,hauteur,hohe,hoehe,yukseklik,yuks,高度,高",
    ),
    (
        Word::Width,
        "width,wid,wide,larghezza,largh,larg,ancho,largura,largeur,breite,genislik,gen,宽度,宽",
    ),
    (
        Word::Size,
        "size,sizes,dimension,dimensions,dim,dims,measure,measures,measurement,measurements,misura,misure,dimensioni,formato,medida,medidas,dimensiones,tamano,dimensao,dimensoes,tamanho,olcu,olculer,ebat,ebatlar,masse,abmessungen,l x h,l x w,lxh,lxw,h x l,hxl,boy x en,boyxen,规格,尺寸",
    ),
    (
        Word::Thickness,
        "thickness,thick,thk,thkn,spessore,spess,sp,espesor,esp,espessura,kalinlik,kal,epaisseur,dicke,starke,staerke,厚度,厚",
    ),
    (
        Word::Area,
        "area,surface,superficie,sup,alan,metraj,metrekare,flache,flaeche,total area,面积,平方数,平方",
    ),
    (Word::Volume, "volume,vol,cubic,hacim,volumen,体积,立方"),
    (Word::Mass, "weight,wt,wgt,mass,peso,agirlik,agirligi,poids,gewicht,g w,gw,n w,nw,重量,重"),
    (
        Word::Count,
        "pcs,pieces,qty,quantity,count,slabs,no of slabs,no of pcs,nr of slabs,number of slabs,pezzi,pz,pzs,cantidad,piezas,quantidade,quantita,menge,qtd,pecas,adet,miktar,stuck,stueck,anzahl,quantite,片数,数量,件数",
    ),
    (
        Word::Stone,
        "stone,material,materiale,color,colour,product,description,desc,descrizione,prodotto,descripcion,producto,descricao,tas,malzeme,urun,cins,cinsi,pierre,品名,石种,名称,材料,石材",
    ),
    (
        Word::Finish,
        "finish,finishing,surface finish,finitura,lavorazione,lav,acabado,acabamento,yuzey,yuzey islemi,cila,finition,oberflache,表面处理,表面,加工面,加工",
    ),
    (
        Word::Quality,
        "quality,choice,selection,class,scelta,qualita,calidad,seleccion,qualidade,classe,kalite,qualite,qualitat,等级,级别,质量",
    ),
    (
        Word::Remark,
        "grade,note,notes,remark,remarks,comment,comments,condition,defect,defects,damage,annotazioni,difetti,osservazioni,observaciones,obs,defectos,nota,notas,observacoes,observacao,defeitos,aciklama,hasar,kusur,remarque,remarques,bemerkung,bemerkungen,备注,说明",
    ),
    (
        Word::Order,
        "order,sequence,seq,sawing order,saw order,sequenza,secuencia,sequencia,kesim sirasi,顺序",
    ),
    (
        Word::Match,
        "match,book match,bookmatch,book matched,match set,macchia aperta,libro abierto,libro aberto,对纹,对花",
    ),
    (
        Word::Container,
        "container,container no,cntr,ctr,ctnr,contenitore,contenedor,conteiner,konteyner,conteneur,柜号,集装箱号,集装箱,货柜",
    ),
    (
        Word::Price,
        "price,unit price,u price,rate,prezzo,prezzo unitario,precio,precio unitario,preco,preco unitario,birim fiyat,fiyat,prix,prix unitaire,preis,单价",
    ),
    (
        Word::Amount,
        "amount,total price,value,importo,valore,importe,valor,tutar,bedel,montant,betrag,金额,总价",
    ),
];

/// Words so short that they say something only where they stand alone.
const ALONE: [(Word, &str); 9] = [
    (Word::Length, "l"),
    (Word::Height, "h"),
    (Word::Width, "w,en"),
    (Word::Thickness, "t,th"),
    (Word::Size, "l h,l w,h l,lh,lw"),
    (Word::Serial, "no,nr,n,num,number,numero,numara"),
    (Word::Bundle, "bl,bu"),
    (Word::Match, "bm"),
    (Word::Area, "net,gross"),
];

/// Words for what is billed and for what is sawn.
const SIDES: [(bool, &str); 2] = [
    (
        true,
        "net,nett,netto,netta,nette,netti,neto,neta,netos,liquido,liquida,commercial,billed,invoiced,chargeable,comerciales,净",
    ),
    (false, "gross,lordo,lorda,lorde,lordi,bruto,bruta,brutos,brut,brut olcu,brutto,actual,毛"),
];

/// Words that say nothing by themselves.
const NOISE: [&str; 31] = [
    "no", "nr", "n", "nos", "num", "number", "numero", "numara", "numarasi", "id", "code", "of",
    "the", "per", "de", "en", "da", "do", "di", "del", "della", "delle", "all", "each", "total",
    "tot", "in", "x", "号", "数", "unit",
];

/// Units as headers write them, the longer spellings first.
const UNITS: [(&str, &str); 58] = [
    ("sq m", "m2"),
    ("sq mt", "m2"),
    ("sq mtr", "m2"),
    ("sq meters", "m2"),
    ("square meters", "m2"),
    ("square metres", "m2"),
    ("metri quadri", "m2"),
    ("metros cuadrados", "m2"),
    ("metros quadrados", "m2"),
    ("sqm", "m2"),
    ("sqmt", "m2"),
    ("smt", "m2"),
    ("m2", "m2"),
    ("mt2", "m2"),
    ("mq", "m2"),
    ("平方米", "m2"),
    ("sq ft", "ft2"),
    ("sq feet", "ft2"),
    ("square feet", "ft2"),
    ("s f", "ft2"),
    ("sqft", "ft2"),
    ("sft", "ft2"),
    ("sf", "ft2"),
    ("ft2", "ft2"),
    ("平方英尺", "ft2"),
    ("m3", "m3"),
    ("cbm", "m3"),
    ("mc", "m3"),
    ("立方米", "m3"),
    ("mm", "mm"),
    ("millimeters", "mm"),
    ("毫米", "mm"),
    ("cm", "cm"),
    ("cms", "cm"),
    ("centimeters", "cm"),
    ("centimetres", "cm"),
    ("厘米", "cm"),
    ("公分", "cm"),
    ("m", "m"),
    ("mt", "m"),
    ("mts", "m"),
    ("mtr", "m"),
    ("meters", "m"),
    ("metres", "m"),
    ("metri", "m"),
    ("metros", "m"),
    ("米", "m"),
    ("in", "in"),
    ("inch", "in"),
    ("inches", "in"),
    ("英寸", "in"),
    ("ft", "ft"),
    ("feet", "ft"),
    ("kg", "kg"),
    ("kgs", "kg"),
    ("公斤", "kg"),
    ("lb", "lb"),
    ("lbs", "lb"),
];

/// Units of mass that are a word of their own in headers.
const TONNES: [&str; 5] = ["t", "ton", "tons", "tonnes", "吨"];

/// A text in small letters without accents, wide forms as the plain ones.
pub fn folded(text: &str) -> String {
    let plain = text.nfkd().filter(|c| !('\u{300}'..='\u{36f}').contains(c));
    let small = plain.flat_map(char::to_lowercase);
    small
        .filter(|c| !('\u{300}'..='\u{36f}').contains(c))
        .map(|c| if c == 'ı' { 'i' } else { c })
        .collect()
}

fn is_han(c: char) -> bool {
    ('\u{2e80}'..='\u{9fff}').contains(&c)
}

/// The words of a text, folded: letters and figures, Han characters apart from others.
pub fn words(text: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let mut open = None;
    for c in folded(text).chars() {
        if !c.is_alphanumeric() {
            open = None;
            continue;
        }
        match all.last_mut().filter(|_| open == Some(is_han(c))) {
            Some(word) => word.push(c),
            None => all.push(c.to_string()),
        }
        open = Some(is_han(c));
    }
    all
}

/// What a listed word says.
#[derive(Debug, Clone, Copy)]
enum Says {
    Column(Word),
    /// Whether it is what is billed.
    Side(bool),
    Unit(&'static str),
}

/// A listed word: what it says, and its parts.
struct Listed {
    says: Says,
    text: &'static str,
    parts: Vec<&'static str>,
}

/// The listed words by their first part, those in Han characters apart: they are not parted by spaces.
struct Index {
    by_first: BTreeMap<&'static str, Vec<Listed>>,
    han: Vec<Listed>,
}

static INDEX: LazyLock<Index> = LazyLock::new(|| {
    let columns =
        WORDS.iter().flat_map(|(word, list)| list.split(',').map(|one| (Says::Column(*word), one)));
    let sides =
        SIDES.iter().flat_map(|(net, list)| list.split(',').map(|one| (Says::Side(*net), one)));
    let units = UNITS.iter().map(|(text, unit)| (Says::Unit(unit), *text));
    let mut index = Index { by_first: BTreeMap::new(), han: Vec::new() };
    for (says, text) in columns.chain(sides).chain(units) {
        let parts: Vec<&str> = text.split(' ').collect();
        let first = parts.first().copied().unwrap_or("");
        let listed = Listed { says, text, parts };
        if first.starts_with(is_han) {
            index.han.push(listed);
        } else {
            index.by_first.entry(first).or_default().push(listed);
        }
    }
    index
});

/// What a run of words opens with.
struct Opening {
    says: Says,
    /// How many words it takes.
    taken: usize,
    /// What is left of the last of them: Han characters are not parted.
    rest: Option<String>,
}

/// The longest listed word that a run of words opens with; of two as long, a column before a side before a unit.
fn opening(words: &[String]) -> Option<Opening> {
    let first = words.first()?;
    let rank = |one: &&Listed| {
        (one.text.len(), matches!(one.says, Says::Column(_)), matches!(one.says, Says::Side(_)))
    };
    if first.starts_with(is_han) {
        let fits = INDEX.han.iter().filter(|one| first.starts_with(one.text));
        let one = fits.max_by_key(rank)?;
        let rest = first.strip_prefix(one.text).filter(|rest| !rest.is_empty()).map(str::to_owned);
        return Some(Opening { says: one.says, taken: 1, rest });
    }
    let is_it = |one: &&Listed| {
        words.len() >= one.parts.len()
            && one.parts.iter().zip(words).all(|(part, word)| part == word)
    };
    let one = INDEX.by_first.get(first.as_str())?.iter().filter(is_it).max_by_key(rank)?;
    Some(Opening { says: one.says, taken: one.parts.len(), rest: None })
}

/// The unit that a text is, such as "(cm)" or "sq. m".
pub fn unit_of(text: &str) -> Option<&'static str> {
    if matches!(
        text.trim().trim_matches(['(', ')', '[', ']']),
        "\"" | "''" | "\u{2033}" | "\u{201d}"
    ) {
        return Some("in");
    }
    let words = words(text);
    if let [one] = &words[..]
        && TONNES.contains(&one.as_str())
    {
        return Some("t");
    }
    let one = opening(&words).filter(|one| one.taken == words.len() && one.rest.is_none())?;
    match one.says {
        Says::Unit(unit) => Some(unit),
        _ => None,
    }
}

/// What a header says, in whichever language; `None`: nothing that is known.
pub fn heading(text: &str) -> Option<Heading> {
    let mut left = words(text);
    if left.is_empty() || left.len() > 8 {
        return text.contains('#').then_some(Heading {
            word: Word::Serial,
            is_net: None,
            unit: None,
        });
    }
    let in_marks = text.contains(['"', '\u{2033}', '\u{201d}']);
    let mut unit = in_marks.then_some("in");
    let (mut kept, mut found, mut is_net) = (Vec::new(), Vec::new(), None);
    while !left.is_empty() {
        let one = opening(&left);
        match one.as_ref().map(|one| one.says) {
            Some(Says::Column(word)) => found.push(word),
            Some(Says::Side(net)) => is_net = Some(net),
            // "in" is a small word, too: a unit behind it is the one.
            Some(Says::Unit(own)) if unit.is_none() || (unit == Some("in") && !in_marks) => {
                unit = Some(own);
            }
            Some(Says::Unit(_)) => {}
            None => kept.extend(left.first().cloned()),
        }
        let (taken, rest) = one.map_or((1, None), |one| (one.taken, one.rest));
        left.drain(..taken.min(left.len()));
        if let Some(rest) = rest {
            left.insert(0, rest);
        }
    }
    let is_tonnes = |word: &String| TONNES.contains(&word.as_str());
    if found == [Word::Mass] && kept.iter().any(is_tonnes) {
        unit = Some("t");
        kept.retain(|word| !is_tonnes(word));
    }
    found.sort_unstable();
    found.dedup();
    if found.iter().any(|word| matches!(word, Word::Price | Word::Amount)) {
        // "Unit price USD/m2": the currency says nothing of the column.
        kept.retain(|word| word != "us" && Currency::from_code(&word.to_uppercase()).is_none());
    }
    let has_strange = kept.iter().any(|word| !NOISE.contains(&word.as_str()));
    let word = match &found[..] {
        [] => alone(&kept, unit)?,
        // "Gross size L".
        [Word::Size] if has_strange => {
            let sides = [Word::Length, Word::Height, Word::Width, Word::Thickness];
            alone(&kept, unit).filter(|word| sides.contains(word))?
        }
        _ if has_strange => return None,
        [one] => *one,
        [Word::Slab, Word::Serial] => Word::Slab,
        [Word::Slab, Word::Count] => Word::Count,
        // "Slab size", "gross area of a slab", "bundle weight".
        [
            Word::Slab,
            other @ (Word::Length | Word::Height | Word::Width | Word::Size | Word::Area),
        ]
        | [other @ (Word::Length | Word::Height | Word::Width), Word::Size]
        | [Word::Bundle, other @ Word::Mass]
        | [Word::Size, other @ Word::Thickness] => *other,
        [Word::Length, Word::Height | Word::Width]
        | [Word::Length, Word::Height | Word::Width, Word::Size] => Word::Size,
        [Word::Price, Word::Amount] => Word::Amount,
        // "Price per slab", "price per m2 net".
        [Word::Slab | Word::Count | Word::Area, Word::Price] => Word::Price,
        _ => return None,
    };
    let is_gross_letter =
        words(text).first().is_some_and(|first| matches!(first.as_str(), "g" | "gw"));
    let is_net_letter =
        words(text).first().is_some_and(|first| matches!(first.as_str(), "n" | "nw"));
    if word == Word::Mass && is_net.is_none() && (is_gross_letter || is_net_letter) {
        is_net = Some(is_net_letter);
    }
    Some(Heading { word, is_net, unit })
}

/// What a header says that holds no longer word.
fn alone(kept: &[String], unit: Option<&'static str>) -> Option<Word> {
    let text = kept.join(" ");
    let listed = ALONE.iter().find(|(_, list)| list.split(',').any(|one| one == text));
    let bare: Vec<&String> = kept.iter().filter(|word| !NOISE.contains(&word.as_str())).collect();
    match (listed, unit) {
        (Some((word, _)), _) => Some(*word),
        (None, Some("m2" | "ft2")) if bare.is_empty() => Some(Word::Area),
        (None, Some("m3")) if bare.is_empty() => Some(Word::Volume),
        (None, Some("kg" | "t" | "lb")) if bare.is_empty() => Some(Word::Mass),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_are_known_in_the_languages_of_the_trade() {
        use Word::{
            Amount, Area, Block, Bundle, Container, Count, Finish, Height, Length, Mass, Match,
            Price, Quality, Remark, Serial, Size, Slab, Stone, Thickness, Width,
        };
        for (text, word, is_net, unit) in [
            ("Slab No.", Slab, None, None),
            ("No.", Serial, None, None),
            ("N\u{b0}", Serial, None, None),
            ("S.No", Serial, None, None),
            ("N. Lastra", Slab, None, None),
            ("PLAKA NO", Slab, None, None),
            ("Bundle #", Bundle, None, None),
            ("Pacco", Bundle, None, None),
            ("Block No", Block, None, None),
            ("BLOK NO", Block, None, None),
            ("Length (cm)", Length, None, Some("cm")),
            ("L", Length, None, None),
            ("L (cm)", Length, None, Some("cm")),
            ("Net Length", Length, Some(true), None),
            ("Lunghezza netta cm", Length, Some(true), Some("cm")),
            ("GEN\u{130}\u{15e}L\u{130}K (CM)", Width, None, Some("cm")),
            ("EN", Width, None, None),
            ("Y\u{dc}KSEKL\u{130}K", Height, None, None),
            ("Comprimento (m)", Length, None, Some("m")),
            ("Ancho", Width, None, None),
            ("Medidas en cm", Size, None, Some("cm")),
            ("Size in cm", Size, None, Some("cm")),
            ("Size (L x H)", Size, None, None),
            ("L x H", Size, None, None),
            ("Gross Size L", Length, Some(false), None),
            ("M\u{b2}", Area, None, Some("m2")),
            ("SQ. FT.", Area, None, Some("ft2")),
            ("Net m2", Area, Some(true), Some("m2")),
            ("Total SF", Area, None, Some("ft2")),
            ("G.W. (KGS)", Mass, Some(false), Some("kg")),
            ("Net Weight", Mass, Some(true), None),
            ("Peso lordo kg", Mass, Some(false), Some("kg")),
            ("Pcs", Count, None, None),
            ("No. of slabs", Count, None, None),
            ("Espesor", Thickness, None, None),
            ("\u{957f}(cm)", Length, None, Some("cm")),
            ("\u{51c0}\u{957f}", Length, Some(true), None),
            ("\u{9ad8} Height", Height, None, None),
            ("\u{9762}\u{79ef}(\u{5e73}\u{65b9}\u{7c73})", Area, None, Some("m2")),
            ("\u{5907}\u{6ce8}", Remark, None, None),
            ("Length / Lunghezza", Length, None, None),
            ("Length \"", Length, None, Some("in")),
            ("Material", Stone, None, None),
            ("Finish", Finish, None, None),
            ("Scelta", Quality, None, None),
            ("Book match", Match, None, None),
            ("Container No.", Container, None, None),
            ("Unit price", Price, None, None),
            ("Amount", Amount, None, None),
        ] {
            let read = heading(text).map(|one| (one.word, one.is_net, one.unit));
            assert_eq!(read, Some((word, is_net, unit)), "{text}");
        }
        for none in ["", "Buyer", "Bundle / Slab / Box of it all", "Warehouse", "Teapot White"] {
            assert_eq!(heading(none), None, "{none}");
        }
    }

    #[test]
    fn units_stand_alone_in_a_row_of_their_own() {
        for (text, unit) in [
            ("(cm)", "cm"),
            ("cm.", "cm"),
            ("Sq. M", "m2"),
            ("\u{5398}\u{7c73}", "cm"),
            ("\"", "in"),
        ] {
            assert_eq!(unit_of(text), Some(unit), "{text}");
        }
        for none in ["", "length", "cm length", "7"] {
            assert_eq!(unit_of(none), None, "{none}");
        }
    }
}
