// Looks at pages to keep and tags in a headless Chromium: nothing is written to the console, nothing is wider than
// the screen at three widths, sheets of loads and tables of forces do not scroll on a phone, no text falls out of the
// paper, and an accessibility checker finds nothing.
//
//     npm install --no-save puppeteer-core axe-core && node tests/in_browser.mjs /usr/bin/chromium PAGE.html...
//
// It is no part of .ci/run: it needs a browser.
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { resolve } from "node:path";

const require = createRequire(resolve(process.cwd(), "package.json"));
const puppeteer = require("puppeteer-core");
const [executablePath, ...pages] = process.argv.slice(2);
const browser = await puppeteer.launch({ executablePath, args: ["--no-sandbox"] });
let wrong = 0;
const tell = (page, what) => {
    wrong += 1;
    console.log(`${page}: ${what}`);
};
for (const name of pages) {
    for (const scheme of ["light", "dark"]) {
        const page = await browser.newPage();
        page.on("console", (message) => tell(name, `console: ${message.text()}`));
        page.on("pageerror", (error) => tell(name, `error: ${error.message}`));
        page.on("request", (request) => {
            if (!request.url().startsWith("file:") && !request.url().startsWith("data:")) tell(name, `asks for ${request.url()}`);
        });
        await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
        await page.goto(pathToFileURL(resolve(name)).href);
        for (const width of [360, 768, 1280]) {
            await page.setViewport({ width, height: 900 });
            const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
            if (wide > 0) tell(name, `${wide} px wider than a screen of ${width} px`);
        }
        await page.setViewport({ width: 360, height: 900 });
        const scrolls = await page.evaluate(() => {
            const forces = [...document.querySelectorAll("h3")].filter((head) => /kN$|^Timber$/.test(head.textContent));
            const own = [...document.querySelectorAll(".sheet"), ...forces.map((head) => head.nextElementSibling)];
            return own.filter((one) => one.scrollWidth > one.clientWidth).map((one) => one.textContent.slice(0, 40));
        });
        for (const what of scrolls) tell(name, `scrolls sideways on a phone: ${what}`);
        await page.addScriptTag({ path: require.resolve("axe-core/axe.min.js") });
        const found = await page.evaluate(() => window.axe.run());
        for (const { id, help, nodes } of found.violations) {
            tell(name, `${scheme}: ${id}: ${help} (${nodes.length}, first ${nodes[0].target})`);
        }
        // On paper: A4 and Letter less margins of 12 mm, at 96 px an inch.
        await page.emulateMediaType("print");
        for (const [paper, width] of [["A4", 210 - 24], ["Letter", 215.9 - 24]]) {
            await page.setViewport({ width: Math.floor((width / 25.4) * 96), height: 900 });
            const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
            if (wide > 0) tell(name, `${wide} px wider than ${paper}`);
        }
        await page.close();
    }
}
await browser.close();
console.log(`${pages.length} pages: ${wrong} wrong`);
process.exit(wrong > 0 ? 1 : 0);
