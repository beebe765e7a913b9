//! What somebody sees when everything is up: where it is, who can sign in, what to try.

use std::fmt::Write;
use std::fs;
use std::path::Path;

use anyhow::Context;

/// The text for a server at `site`. Every line to try works when it is pasted.
pub fn text(site: &str, data: &Path, log: Option<&Path>) -> anyhow::Result<String> {
    let mut text = format!("\nParings answers at {site}\n\n  data  {}\n", data.display());
    if let Some(log) = log {
        writeln!(text, "  log   {}", log.display())?;
    }
    let sign_ins = data.join("sign-ins");
    if sign_ins.exists() {
        let lines = fs::read_to_string(&sign_ins)
            .with_context(|| format!("cannot read {}", sign_ins.display()))?;
        writeln!(text, "\nSign-ins, kept in {}:\n", sign_ins.display())?;
        for line in lines.lines() {
            writeln!(text, "  {line}")?;
        }
    }
    writeln!(text, "\nThree things to try:\n")?;
    writeln!(text, "  curl -s {site}/readyz")?;
    writeln!(text, "  curl -s {site}/openapi.json")?;
    writeln!(text, "  open {site}/docs/ in a browser")?;
    if !sign_ins.exists() {
        let program = std::env::current_exe()?;
        let (program, data) = (quoted(&program), quoted(data));
        writeln!(text, "\nNobody can sign in yet. Add the first person of head office:\n")?;
        writeln!(text, "  {program} people add ada@example.com --name Ada --data {data}")?;
    }
    write!(text, "\nCtrl-C stops it; the data stay.")?;
    Ok(text)
}

/// A path as a shell takes it.
fn quoted(path: &Path) -> String {
    let path = path.to_string_lossy();
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
    if path.chars().all(plain) {
        path.into_owned()
    } else {
        format!("'{}'", path.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::process::Command;

    use super::quoted;

    /// The witness is the shell itself.
    #[test]
    fn the_shell_reads_a_quoted_path_back() {
        for path in ["/var/lib/parings", "/tmp/a b", "/tmp/it's $HOME `x` \"y\" \\"] {
            let line = format!("printf %s {}", quoted(Path::new(path)));
            let said = Command::new("sh").args(["-c", &line]).output().expect("a shell");
            assert_eq!(String::from_utf8_lossy(&said.stdout), path);
        }
    }
}
