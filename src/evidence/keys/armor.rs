//! The text form of a signature. A text is accepted only if it would be written again exactly as it stands, line width
//! aside: else bytes could be changed in a signature file and nobody would see it.

use std::borrow::Cow;

use ssh_key::{LineEnding, SshSig};

use super::{ArmorFault, Error};

const BEGIN: &str = "-----BEGIN SSH SIGNATURE-----\n";
const END: &str = "-----END SSH SIGNATURE-----\n";
/// Characters a line, as stock `ssh-keygen` and the ssh-key crate write.
const STOCK_WIDTH: usize = 70;

/// Decodes the armor, and refuses any text that would not be written again exactly as it stands, line width aside.
pub(super) fn read(armored: &str) -> Result<SshSig, Error> {
    let canonical = at_stock_width(armored).map_err(Error::SignatureArmor)?;
    let sealed = SshSig::from_pem(&*canonical).map_err(|error| match error {
        ssh_key::Error::Version { number } => Error::SignatureVersion { found: number },
        // the library says so of the kinds it was built without
        ssh_key::Error::AlgorithmUnknown => Error::SignatureNotEd25519 {
            found: "unknown".into(),
        },
        _ => Error::SignatureUnreadable,
    })?;
    // the library refuses such texts by itself; this holds it to that in its next version as well
    if sealed.to_pem(LineEnding::LF).is_ok_and(|again| again == canonical) {
        Ok(sealed)
    } else {
        Err(Error::SignatureUnreadable)
    }
}

/// The same armor with its lines at the width of stock `ssh-keygen`. PROTOCOL.sshsig suggests 76 and stock writes 70,
/// so any one width is taken: every line full, the last at most full.
fn at_stock_width(armored: &str) -> Result<Cow<'_, str>, ArmorFault> {
    if armored.contains('\r') {
        return Err(ArmorFault::CarriageReturn);
    }
    let rest = armored.strip_prefix(BEGIN).ok_or(ArmorFault::NoBegin)?;
    let body = rest.strip_suffix(END).ok_or(ArmorFault::NoEnd)?;
    let lines: Vec<&str> = body.strip_suffix('\n').ok_or(ArmorFault::NoEnd)?.split('\n').collect();
    let (last, full) = lines.split_last().expect("splitting a text gives one piece at least");
    let width = lines[0].len();
    if last.is_empty() || width < last.len() || full.iter().any(|line| line.len() != width) {
        return Err(ArmorFault::Uneven);
    }
    // as this program and ssh-keygen write it: nothing to be done
    if width == STOCK_WIDTH && armored.is_ascii() {
        return Ok(Cow::Borrowed(armored));
    }
    let base64: Vec<char> = lines.concat().chars().collect();
    let mut text = String::from(BEGIN);
    for line in base64.chunks(STOCK_WIDTH) {
        text.extend(line);
        text.push('\n');
    }
    text.push_str(END);
    Ok(Cow::Owned(text))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::keys::SigningKey;
    use crate::explain::Explain;

    fn refused(armored: &str, expected: &str) {
        let error = read(armored).unwrap_err();
        assert_eq!(error.to_string(), expected, "{armored}");
        let hint = "ask the signer for the record and its signature again, and treat this copy as altered";
        assert_eq!(error.hint().as_deref(), Some(hint));
        assert!(!error.is_equipment());
    }

    #[test]
    fn any_even_line_width_is_read_alike() {
        let armored = SigningKey::throw_away().sign(b"hello\n");
        let body: String = armored.lines().filter(|line| !line.starts_with('-')).collect();
        for width in [1, 64, 70, 76, 1000] {
            let lines: Vec<&str> = (0..body.len())
                .step_by(width)
                .map(|at| &body[at..body.len().min(at + width)])
                .collect();
            let other = format!("{BEGIN}{}\n{END}", lines.join("\n"));
            assert_eq!(read(&other).unwrap(), read(&armored).unwrap());
        }
    }

    #[test]
    fn armor_in_any_other_form_is_refused() {
        let good = SigningKey::throw_away().sign(b"hello\n");
        let text = |fault: &str| format!("the signature file is not in canonical form: {fault}");
        let no_begin = text("it does not start with the BEGIN line");
        let no_end = text("it does not end with the END line");
        let uneven = text("its lines are of uneven width");
        refused(&good.replace('\n', "\r\n"), &text("it holds a carriage return"));
        refused(&format!("note\n{good}"), &no_begin);
        refused(&format!("\n{good}"), &no_begin);
        refused("", &no_begin);
        refused(&format!("{good}\n"), &no_end);
        refused(&format!("{good}note"), &no_end);
        refused(good.trim_end(), &no_end);
        refused(&format!("{BEGIN}{END}"), &no_end);
        refused(&format!("{BEGIN}\n{END}"), &uneven);
        refused(&good.replace(END, &format!("\n{END}")), &uneven);
        refused(&good.replacen("AAAA", "AAAA\n", 1), &uneven);
    }

    #[test]
    fn base64_that_would_be_written_otherwise_is_refused() {
        // the last digit before `==` carries four bits that decoding throws away; the text is the published signature
        // of openssh-portable, regress/unittests/sshsig/testdata/ed25519.sig
        let good = format!(
            "{BEGIN}U1NIU0lHAAAAAQAAADMAAAALc3NoLWVkMjU1MTkAAAAgiWLNIg3cNBXvxU82NW+/COB/4/\n\
             keps9gJi7cE4x2MAQAAAAIdW5pdHRlc3QAAAAAAAAABnNoYTUxMgAAAFMAAAALc3NoLWVk\n\
             MjU1MTkAAABAihQsbUzuNEFflk5Tw1+H9aLS7tZQk0RG8KW1DtOmDYYnWe3D3UKiG3fcJa\n\
             DNg4vBWp1j1gLRiBMOF+gwYNegDg==\n{END}"
        );
        read(&good).unwrap();
        for other in ["Dh==", "Dv==", "Dg=", "Dg", "Dg==AAAA", "DgAA", "DgA="] {
            let error = read(&good.replace("Dg==", other)).unwrap_err();
            assert!(matches!(error, Error::SignatureUnreadable), "{other}");
        }
    }
}
