//! Files: read with a good fault, written whole or not at all.

mod digest;
mod reading;
mod writing;

use std::fs::FileType;

pub use digest::digest;
pub use reading::{read, read_bytes};
pub use writing::{
    Contents, Refusal, append, bytes, copy_folder, remove, seen, write_all, write_new,
};

/// What a folder is called.
const FOLDER: &str = "a folder";

/// What stands where a plain file should; `None`: a plain file does.
fn kind(found: FileType) -> Option<&'static str> {
    if found.is_dir() {
        return Some(FOLDER);
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if found.is_fifo() {
            return Some("a pipe");
        }
        if found.is_socket() {
            return Some("a socket");
        }
        if found.is_char_device() || found.is_block_device() {
            return Some("a device");
        }
    }
    (!found.is_file()).then_some("nothing that can be read")
}
