//! What names a document: the client's URI, and the path behind it.
//!
//! A document is told from others by its path, not by the spelling of its URI: clients write one
//! file as `file:///c%3A/My%20notes/a.porism`, another as `file:///C:/My notes/a.porism`. A
//! document without a file (an unsaved buffer, `untitled:Untitled-1`) is told by its URI.

use std::path::{Path, PathBuf};

use tower_lsp::lsp_types::Url;

/// A URI, as a client spelled it or as this module writes it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Uri(Url);

impl From<Url> for Uri {
    fn from(url: Url) -> Self {
        Self(url)
    }
}

impl From<Uri> for Url {
    fn from(uri: Uri) -> Self {
        uri.0
    }
}

impl std::fmt::Display for Uri {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl Uri {
    /// The URI of a file. `None` if the path is not absolute, or not Unicode on a system whose
    /// paths are not bytes.
    pub(crate) fn from_path(path: &Path) -> Option<Self> {
        if !path.is_absolute() {
            return None;
        }
        let text = encode(&path_bytes(path)?, cfg!(windows));
        Url::parse(&text).ok().map(Self)
    }

    /// The path of a `file:` URI of this machine; `None` for any other URI.
    pub(crate) fn to_path(&self) -> Option<PathBuf> {
        bytes_path(decode(&self.0, cfg!(windows))?)
    }

    /// Reads a URI; `None` if the text is none.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        Url::parse(text).ok().map(Self)
    }

    /// The URI as text.
    pub(crate) fn as_str(&self) -> &str {
        self.0.as_str()
    }
}

#[cfg(unix)]
fn path_bytes(path: &Path) -> Option<Vec<u8>> {
    use std::os::unix::ffi::OsStrExt;
    Some(path.as_os_str().as_bytes().to_vec())
}

#[cfg(not(unix))]
fn path_bytes(path: &Path) -> Option<Vec<u8>> {
    path.to_str().map(|text| text.as_bytes().to_vec())
}

#[cfg(unix)]
fn bytes_path(bytes: Vec<u8>) -> Option<PathBuf> {
    use std::os::unix::ffi::OsStringExt;
    Some(std::ffi::OsString::from_vec(bytes).into())
}

#[cfg(not(unix))]
fn bytes_path(bytes: Vec<u8>) -> Option<PathBuf> {
    String::from_utf8(bytes).ok().map(PathBuf::from)
}

/// Writes a path as a `file:` URI (RFC 8089, section 2; appendix E for drives and shares).
fn encode(path: &[u8], windows: bool) -> String {
    const HEX: &[u8; 16] = b"0123456789ABCDEF";
    let mut path: Vec<u8> = path.to_vec();
    let mut text = String::from("file://");
    if windows {
        // The verbatim form in which the system gives canonical paths: \\?\C:\ and \\?\UNC\.
        if let Some(share) = path.strip_prefix(br"\\?\UNC") {
            path = [br"\", share].concat();
        } else if let Some(plain) = path.strip_prefix(br"\\?\") {
            path = plain.to_vec();
        }
        path.iter_mut()
            .filter(|byte| **byte == b'\\')
            .for_each(|byte| *byte = b'/');
        if let Some(share) = path.strip_prefix(b"//") {
            path = share.to_vec();
        } else {
            text.push('/');
        }
    }
    let drive = windows && path.get(1) == Some(&b':');
    for (i, &byte) in path.iter().enumerate() {
        let plain = byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte);
        if plain || (drive && i == 1) {
            text.push(char::from(byte));
        } else {
            text.push('%');
            text.push(char::from(HEX[usize::from(byte >> 4)]));
            text.push(char::from(HEX[usize::from(byte & 15)]));
        }
    }
    text
}

/// Reads the path of a `file:` URI. A drive letter is made upper case, so that two spellings of
/// one path are equal.
fn decode(url: &Url, windows: bool) -> Option<Vec<u8>> {
    if url.scheme() != "file" {
        return None;
    }
    let mut path = percent_decode(url.path())?;
    let host = url.host_str().filter(|host| *host != "localhost");
    if !windows {
        return host.is_none().then_some(path);
    }
    if let Some(host) = host {
        path = [b"//", host.as_bytes(), &path].concat();
    } else if let [b'/', letter, b':', ..] = *path.as_slice()
        && letter.is_ascii_alphabetic()
    {
        path.remove(0);
        path[0] = letter.to_ascii_uppercase();
    }
    path.iter_mut()
        .filter(|byte| **byte == b'/')
        .for_each(|byte| *byte = b'\\');
    Some(path)
}

/// Undoes percent-encoding; `None` if the text holds an encoded NUL, which no path can.
fn percent_decode(text: &str) -> Option<Vec<u8>> {
    let bytes = text.as_bytes();
    let digit = |at: usize| char::from(*bytes.get(at)?).to_digit(16);
    let mut decoded = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while let Some(&byte) = bytes.get(at) {
        match (byte, digit(at + 1), digit(at + 2)) {
            (b'%', Some(high), Some(low)) => {
                decoded.push((high * 16 + low) as u8);
                at += 3;
            }
            _ => {
                decoded.push(byte);
                at += 1;
            }
        }
    }
    (!decoded.contains(&0)).then_some(decoded)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(uri: &str, unix: Option<&str>, windows: Option<&str>) {
        let url = Url::parse(uri).unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        assert_eq!(
            decode(&url, false).map(text).as_deref(),
            unix,
            "{uri} on Unix"
        );
        assert_eq!(
            decode(&url, true).map(text).as_deref(),
            windows,
            "{uri} on Windows"
        );
    }

    #[test]
    fn spellings_of_one_path_are_one_path() {
        check(
            "file:///notes/a.porism",
            Some("/notes/a.porism"),
            Some(r"\notes\a.porism"),
        );
        check(
            "file://localhost/notes/a.porism",
            Some("/notes/a.porism"),
            Some(r"\notes\a.porism"),
        );
        check(
            "file:///My%20notes/%C3%A9.porism",
            Some("/My notes/é.porism"),
            Some(r"\My notes\é.porism"),
        );
        check(
            "file:///My notes/é.porism",
            Some("/My notes/é.porism"),
            Some(r"\My notes\é.porism"),
        );
        check(
            "file:///c%3A/n/a.porism",
            Some("/c:/n/a.porism"),
            Some(r"C:\n\a.porism"),
        );
        check(
            "file:///C:/n/a.porism",
            Some("/C:/n/a.porism"),
            Some(r"C:\n\a.porism"),
        );
        check("file:///100%/a", Some("/100%/a"), Some(r"\100%\a"));
        check("file:///a%2fb", Some("/a/b"), Some(r"\a\b"));
    }

    #[test]
    fn what_is_no_file_of_this_machine_has_no_path() {
        check("untitled:Untitled-1", None, None);
        check("vscode-notebook-cell:/a.porism#x", None, None);
        check(
            "file://campus/share/a.porism",
            None,
            Some(r"\\campus\share\a.porism"),
        );
        check("file:///a%00b", None, None);
    }

    #[test]
    fn paths_are_written_as_rfc_8089_says() {
        // RFC 8089, appendices B, E.2 and E.3, with file names of our own.
        assert_eq!(encode(b"/notes/a.porism", false), "file:///notes/a.porism");
        assert_eq!(
            encode(br"C:\notes\a.porism", true),
            "file:///C:/notes/a.porism"
        );
        assert_eq!(
            encode(br"\\host.example\share\a", true),
            "file://host.example/share/a"
        );
        assert_eq!(encode(br"\\?\C:\notes\a b", true), "file:///C:/notes/a%20b");
        assert_eq!(
            encode(br"\\?\UNC\host\share\a", true),
            "file://host/share/a"
        );
        assert_eq!(
            encode("/é#?%:\\".as_bytes(), false),
            "file:///%C3%A9%23%3F%25%3A%5C"
        );
    }

    #[test]
    fn a_relative_path_has_no_uri() {
        assert_eq!(Uri::from_path(Path::new("a.porism")), None);
    }

    proptest! {
        #[test]
        fn a_unix_path_comes_back_from_its_uri(names in prop::collection::vec("[^/\\x00]{1,8}", 1..4)) {
            let names: Vec<_> = names.into_iter().filter(|n| n != "." && n != "..").collect();
            let path = format!("/{}", names.join("/"));
            let url = Url::parse(&encode(path.as_bytes(), false)).unwrap();
            prop_assert_eq!(decode(&url, false), Some(path.into_bytes()));
        }

        #[test]
        fn a_windows_path_comes_back_from_its_uri(names in prop::collection::vec("[^/\\\\\\x00:]{1,8}", 1..4)) {
            let names: Vec<_> = names.into_iter().filter(|n| n != "." && n != "..").collect();
            let path = format!("D:\\{}", names.join("\\"));
            let url = Url::parse(&encode(path.as_bytes(), true)).unwrap();
            prop_assert_eq!(decode(&url, true), Some(path.into_bytes()));
        }
    }
}
