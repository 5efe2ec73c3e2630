//! Completions and manual pages come from the definitions of the commands.

use assert_cmd::Command;

const COMMANDS: [&str; 9] = [
    "agreement",
    "completions",
    "demo",
    "inspect",
    "man",
    "moments",
    "sheet",
    "statics",
    "tables",
];

fn armload() -> Command {
    Command::cargo_bin("armload").unwrap()
}

#[test]
fn cli_completions_of_every_shell_know_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let ran = armload().args(["completions", shell]).assert().success();
        let text = String::from_utf8_lossy(&ran.get_output().stdout).into_owned();
        for command in COMMANDS {
            assert!(text.contains(command), "{shell}: {command}");
        }
        // and options of one of them
        assert!(text.contains("cutoff") || text.contains("explain"), "{shell}");
    }
    armload()
        .args(["completions", "no-such-shell"])
        .assert()
        .failure();
}

#[test]
fn cli_every_command_has_a_manual_page() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("man1");
    armload().args(["man", "--out"]).arg(&out).assert().success();
    for command in COMMANDS {
        let page = std::fs::read_to_string(out.join(format!("armload-{command}.1"))).unwrap();
        assert!(page.contains(&format!(".TH armload-{command} 1")), "{page}");
        assert!(
            page.contains(".SH SYNOPSIS") && page.contains(".SH OPTIONS"),
            "{command}"
        );
    }
    let whole = std::fs::read_to_string(out.join("armload.1")).unwrap();
    assert!(whole.contains("licensed"), "the cautions");
    // a folder that can't be one
    let file = folder.path().join("file");
    std::fs::write(&file, "").unwrap();
    armload()
        .args(["man", "--out"])
        .arg(file.join("below"))
        .assert()
        .code(4);
}
