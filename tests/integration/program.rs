//! Running the program.

use std::path::Path;

use assert_cmd::Command as Program;

/// Exit code, stdout and stderr of a run without a terminal.
pub(crate) fn run(arguments: &[&str]) -> (i32, String, String) {
    run_in(Path::new("."), arguments)
}

/// The same in a folder.
pub(crate) fn run_in(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut program = Program::cargo_bin("concento").unwrap();
    said(program.current_dir(folder).args(arguments))
}

/// The program with what a shell sets for it first: `umask 000`.
#[cfg(unix)]
pub(crate) fn program_under(setting: &str) -> Program {
    let mut program = Program::new("sh");
    let script = format!("{setting} && exec \"$@\"");
    program
        .args(["-c", &script, "sh"])
        .arg(assert_cmd::cargo::cargo_bin!("concento"));
    program
}

/// What comes of running it: exit code, stdout and stderr.
pub(crate) fn said(program: &mut Program) -> (i32, String, String) {
    let output = program.output().unwrap();
    let errors = String::from_utf8(output.stderr).unwrap();
    let code = output.status.code();
    (
        code.unwrap_or_else(|| panic!("{}: {errors}", output.status)),
        String::from_utf8(output.stdout).unwrap(),
        errors,
    )
}
