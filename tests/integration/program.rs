//! Running the program.

use std::path::Path;

use assert_cmd::Command as Program;

/// Exit code, stdout and stderr of a run without a terminal.
pub(crate) fn run(arguments: &[&str]) -> (i32, String, String) {
    run_in(Path::new("."), arguments)
}

/// The same in a folder.
pub(crate) fn run_in(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Program::cargo_bin("concento")
        .unwrap()
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}
