//! What an authority is asked.
//!
//! The rule inside: it gets the digest of the record and nothing of what stands in it.

use der::asn1::{Any, Null, OctetString};
use der::oid::db::rfc5912::ID_SHA_256;
use der::{Decode as _, Encode as _};
use sha2::{Digest as _, Sha256};
use x509_tsp::{MessageImprint, TimeStampReq, TspVersion};

/// A request for a stamp over the SHA-256 of these bytes, in DER; the answer is to carry the authority's certificate.
pub fn request(bytes: &[u8]) -> Vec<u8> {
    asking(bytes, true)
}

fn asking(bytes: &[u8], cert_req: bool) -> Vec<u8> {
    let of_digest = "a digest and fixed names always encode";
    let null = Null.to_der().and_then(|der| Any::from_der(&der)).expect(of_digest);
    let asked = TimeStampReq {
        version: TspVersion::V1,
        message_imprint: MessageImprint {
            hash_algorithm: spki_of(null),
            hashed_message: OctetString::new(Sha256::digest(bytes).to_vec()).expect(of_digest),
        },
        req_policy: None,
        // a nonce would tell an old answer from a new one; an old one that is over these bytes is as good
        nonce: None,
        cert_req,
        extensions: None,
    };
    asked.to_der().expect(of_digest)
}

fn spki_of(null: Any) -> x509_cert::spki::AlgorithmIdentifierOwned {
    x509_cert::spki::AlgorithmIdentifierOwned {
        oid: ID_SHA_256,
        parameters: Some(null),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `openssl ts -query -sha256 -no_nonce` over `hello` and a line feed, OpenSSL 3.0.19.
    #[test]
    fn the_request_is_that_of_openssl() {
        let expected = "30360201013031300d0609608648016503040201050004205891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03";
        let hex: String = asking(b"hello\n", false)
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        assert_eq!(hex, expected);
        assert_eq!(request(b"hello\n").len(), 59);
    }
}
