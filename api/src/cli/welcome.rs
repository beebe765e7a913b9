//! What somebody sees when everything is up: where it is, who can sign in, what to try.

use std::fmt::Write;
use std::io::Write as _;
use std::path::Path;
use std::{fs, io};

use anyhow::Context;

/// Prints a text. A server goes on when nobody reads it, as in `parings up | head -n 1`.
pub fn say(text: &str) {
    if let Err(error) = writeln!(io::stdout(), "{text}") {
        tracing::debug!(%error, "nobody reads standard output");
    }
}

/// What the text depends on.
pub struct Welcome<'a> {
    /// Where the server answers.
    pub site: String,
    /// The data folder; a file `sign-ins.txt` in it is shown.
    pub data: &'a Path,
    /// The server's log, if it is a file.
    pub log: Option<&'a Path>,
    /// Whether anybody is on record who could sign in.
    pub somebody: bool,
}

impl Welcome<'_> {
    /// The text. Every line to try works when it is pasted.
    pub fn text(&self) -> anyhow::Result<String> {
        let (site, data) = (&self.site, self.data);
        let mut text = format!("\nParings answers at {site}\n\n  data  {}\n", data.display());
        if let Some(log) = self.log {
            writeln!(text, "  log   {}", log.display())?;
        }
        let sign_ins = data.join("sign-ins.txt");
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
        if !self.somebody {
            let program = std::env::current_exe()?;
            let (program, data) = (quoted(&program), quoted(data));
            writeln!(text, "\nNobody can sign in yet. Add the first person of head office:\n")?;
            writeln!(text, "  {program} people add ada@example.com --name Ada --data {data}")?;
        }
        write!(text, "\nCtrl-C stops it; the data stay.")?;
        Ok(text)
    }
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
