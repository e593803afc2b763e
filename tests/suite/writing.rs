//! What is read and written besides plain files, and what a run may do to files that are there.

#![cfg(unix)]

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::Command;

use crate::cases::files;
use crate::common::{Tiny, run};

/// The exit code of a command on a workspace, and what it says on stderr.
fn ask(tiny: &Tiny, args: &[&str]) -> (i32, String) {
    let output = run(tiny.path(), args);
    (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
}

/// A path in the workspace.
fn at(tiny: &Tiny, name: &str) -> String {
    tiny.path().join(name).to_str().unwrap().to_owned()
}

fn make_pipe(path: &str) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

#[test]
fn a_pipe_is_no_input_and_is_not_waited_for() {
    let tiny = Tiny::new();
    let list = at(&tiny, "shipments/plain/packing.csv");
    fs::remove_file(&list).unwrap();
    make_pipe(&list);
    let (exit, said) = ask(&tiny, &["cost", "plain"]);
    assert_eq!(exit, 1, "{said}");
    assert!(said.contains("shipments/plain/packing.csv is a pipe, not a file"), "{said}");
}

#[test]
fn a_device_is_no_plan() {
    let (exit, said) = ask(&Tiny::new(), &["load", "plain", "--check", "/dev/zero"]);
    assert_eq!(exit, 1, "{said}");
    assert!(said.contains("/dev/zero is a device, not a file"), "{said}");
}

#[test]
fn nothing_but_a_plain_file_is_replaced() {
    let tiny = Tiny::new();
    let (pipe, folder, link, target) =
        (at(&tiny, "pipe"), at(&tiny, "folder"), at(&tiny, "link"), at(&tiny, "target"));
    make_pipe(&pipe);
    fs::create_dir(&folder).unwrap();
    fs::write(&target, "mine").unwrap();
    symlink(&target, &link).unwrap();
    for force in [&[][..], &["--force"]] {
        for (path, why) in [
            (&pipe, "is a pipe".to_owned()),
            (&folder, "is a folder".to_owned()),
            (&"/dev/full".to_owned(), "is a device".to_owned()),
            (&link, format!("is a link to {target}")),
        ] {
            let (exit, said) = ask(&tiny, &[&["cost", "plain", "--out", path], force].concat());
            assert_eq!(exit, 4, "{path}: {said}");
            assert!(said.contains(path) && said.contains(&why), "{said}");
        }
    }
    assert_eq!(fs::read(&target).unwrap(), b"mine");
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
}

#[test]
fn what_is_replaced_keeps_its_mode() {
    let tiny = Tiny::new();
    let out = at(&tiny, "out.txt");
    fs::write(&out, "old").unwrap();
    fs::set_permissions(&out, fs::Permissions::from_mode(0o640)).unwrap();
    assert_eq!(ask(&tiny, &["cost", "plain", "--out", &out, "--force"]).0, 0);
    assert_eq!(fs::metadata(&out).unwrap().permissions().mode() & 0o777, 0o640);
    assert_ne!(fs::read(&out).unwrap(), b"old");
}

#[test]
fn a_read_only_file_is_not_replaced() {
    let tiny = Tiny::new();
    let out = at(&tiny, "out.txt");
    fs::write(&out, "old").unwrap();
    fs::set_permissions(&out, fs::Permissions::from_mode(0o444)).unwrap();
    let (exit, said) = ask(&tiny, &["cost", "plain", "--out", &out, "--force"]);
    assert_eq!(exit, 4, "{said}");
    assert!(said.contains(&out) && said.contains("is read-only"), "{said}");
    assert_eq!(fs::read(&out).unwrap(), b"old");
}

#[test]
fn a_drawing_or_a_plan_is_not_written_to_a_file_called_dash() {
    let tiny = Tiny::new();
    for option in ["--drawing", "--freeze"] {
        let (exit, said) = ask(&tiny, &["load", "plain", option, "-"]);
        assert_eq!(exit, 2, "{said}");
        assert!(said.contains(option) && said.contains("the name of a file"), "{said}");
    }
    assert!(!Path::new("-").exists());
}

#[test]
fn a_large_file_is_not_read_to_be_replaced() {
    let tiny = Tiny::new();
    let out = at(&tiny, "out.txt");
    // A hole of a terabyte takes no room, and no memory holds it.
    if fs::File::create(&out).unwrap().set_len(1 << 40).is_err() {
        return;
    }
    let drawing = at(&tiny, "load.svg");
    let args = ["load", "plain", "--drawing", &drawing, "--out", &out, "--force"];
    assert_eq!(ask(&tiny, &args), (0, String::new()));
    assert!(fs::metadata(&out).unwrap().len() < 1 << 20);
}

#[test]
fn no_result_is_written_over_a_file_that_was_read() {
    let tiny = Tiny::new();
    let linked = at(&tiny, "linked");
    symlink(tiny.path(), &linked).unwrap();
    let before = files(&tiny.path().join("shipments"));
    for path in ["shipments/plain/packing.csv", "rates/fees.toml", "linked/rates/fees.toml"] {
        for command in [&["cost", "plain"][..], &["check"], &["load", "plain"], &["cash", "plain"]]
        {
            let path = at(&tiny, path);
            let (exit, said) = ask(&tiny, &[command, &["--out", &path, "--force"]].concat());
            assert_eq!(exit, 4, "{command:?} {path}: {said}");
            assert!(said.contains("was read for this result"), "{said}");
        }
        let drawing = ["load", "plain", "--force", "--drawing", &at(&tiny, path)];
        assert_eq!(ask(&tiny, &drawing).0, 4);
    }
    assert_eq!(files(&tiny.path().join("shipments")), before);
}

#[test]
fn a_frozen_load_replaces_nothing_but_a_plan() {
    let tiny = Tiny::new();
    let (plan, shipment) = (at(&tiny, "plan.toml"), at(&tiny, "shipments/plain/shipment.toml"));
    assert_eq!(ask(&tiny, &["load", "plain", "--freeze", &plan]).0, 0);
    let frozen = fs::read(&plan).unwrap();
    assert_eq!(ask(&tiny, &["load", "plain", "--freeze", &plan, "--check", &plan]).0, 4);
    let again = ["load", "plain", "--freeze", &plan, "--check", &plan, "--force"];
    assert_eq!(ask(&tiny, &again), (0, format!("the load is kept in {plan}\n")));
    // It says that it was given now; it said that it was proven.
    assert_ne!(fs::read(&plan).unwrap(), frozen);
    let before = fs::read(&shipment).unwrap();
    let (exit, said) = ask(&tiny, &["load", "plain", "--freeze", &shipment, "--force"]);
    assert_eq!(exit, 4);
    assert!(said.contains("is no plan"), "{said}");
    assert_eq!(fs::read(&shipment).unwrap(), before);
}

#[test]
fn a_dash_is_stdout() {
    let tiny = Tiny::new();
    let plain = run(tiny.path(), &["cost", "plain"]);
    let dash = run(tiny.path(), &["cost", "plain", "--out", "-"]);
    assert_eq!((dash.status.code(), dash.stdout), (Some(0), plain.stdout));
    assert!(!Path::new("-").exists());
}

#[test]
fn an_error_names_the_users_path_and_leaves_nothing() {
    let tiny = Tiny::new();
    let before = files(tiny.path());
    let out = at(&tiny, "out.txt");
    // No file may grow at all.
    let shell = format!(
        "trap '' XFSZ; ulimit -f 0; exec {} --dir {} cost plain --out {out}",
        env!("CARGO_BIN_EXE_quaystone"),
        tiny.path().display()
    );
    let output = Command::new("sh").args(["-c", &shell]).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(4), "{said}");
    assert!(said.contains(&out) && !said.contains(".quaystone-"), "{said}");
    assert_eq!(files(tiny.path()), before);
}

#[test]
fn the_next_run_sweeps_what_a_killed_one_left() {
    let tiny = Tiny::new();
    let left = at(&tiny, ".quaystone-killed.part");
    fs::write(&left, "half").unwrap();
    assert_eq!(ask(&tiny, &["cost", "plain", "--out", &at(&tiny, "out.txt")]).0, 0);
    assert!(!Path::new(&left).exists());
}

#[test]
fn a_folder_whose_name_is_not_utf_8_is_told_as_such() {
    use std::os::unix::ffi::OsStrExt;
    let tiny = Tiny::new();
    let odd = tiny.path().join("shipments").join(std::ffi::OsStr::from_bytes(b"odd\xff"));
    if fs::create_dir(&odd).is_err() {
        return;
    }
    fs::write(odd.join("shipment.toml"), "").unwrap();
    let (exit, said) = ask(&tiny, &["check"]);
    assert_eq!(exit, 1);
    assert!(said.contains("is not UTF-8 text") && said.contains("rename the folder"), "{said}");
}

#[test]
fn the_ending_of_the_file_names_the_form() {
    let tiny = Tiny::new();
    for (ending, opens) in [
        ("csv", "slab,bundle,box,"),
        ("json", "{"),
        ("md", "## plain"),
        ("html", "<!DOCTYPE html>"),
        ("txt", "plain: "),
        ("list", "plain: "),
    ] {
        let path = at(&tiny, &format!("cost.{ending}"));
        let (exit, said) = ask(&tiny, &["cost", "plain", "--out", &path]);
        assert_eq!((exit, said.as_str()), (0, ""), "{ending}");
        let written = fs::read_to_string(&path).unwrap();
        assert!(written.starts_with(opens), "{ending}: {written:.200}");
    }
}
