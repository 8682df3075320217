//! TLS 1.3 with raw Ed25519 keys both ways (RFC 7250): a device's key is its identity, and there is nothing else.

use std::sync::Arc;

use ledger_format::mark::FullMark;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::client::{AlwaysResolvesClientRawPublicKeys, Resumption};
use rustls::crypto::{CryptoProvider, WebPkiSupportedAlgorithms, ring, verify_tls13_signature_with_raw_key};
use rustls::pki_types::{
    CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer, ServerName, SubjectPublicKeyInfoDer, UnixTime,
};
use rustls::server::danger::{ClientCertVerified, ClientCertVerifier};
use rustls::server::{AlwaysResolvesServerRawPublicKeys, NoServerSessionStorage};
use rustls::sign::CertifiedKey;
use rustls::version::TLS13;
use rustls::{
    CertificateError, ClientConfig, DigitallySignedStruct, DistinguishedName, Error, ServerConfig, SignatureScheme,
};

use crate::Trouble;
use crate::keys::DeviceKey;

/// What stands before the 32 bytes of a public key (RFC 8410).
const PUBLIC_LEAD: [u8; 12] = [0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00];
/// What stands before the 32 bytes of a secret one.
const SECRET_LEAD: [u8; 16] =
    [0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20];

const PROTOCOL: &[u8] = b"http/1.1";

/// Which key the other side must have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expect {
    /// This one: whoever is called at an address.
    Key(FullMark),
    /// Any: whoever calls, for members are asked for at each request; and in pairing.
    Any,
}

/// What a listener needs. A session is never resumed: a resumed one would skip the key.
pub fn server(key: &DeviceKey) -> Result<Arc<ServerConfig>, Trouble> {
    let provider = Arc::new(ring::default_provider());
    let own = certified(&provider, key)?;
    let mut config = ServerConfig::builder_with_provider(Arc::clone(&provider))
        .with_protocol_versions(&[&TLS13])
        .map_err(|error| trouble(&error))?
        .with_client_cert_verifier(Keys::new(Expect::Any, &provider))
        .with_cert_resolver(Arc::new(AlwaysResolvesServerRawPublicKeys::new(own)));
    config.send_tls13_tickets = 0;
    config.session_storage = Arc::new(NoServerSessionStorage {});
    config.alpn_protocols = vec![PROTOCOL.to_vec()];
    Ok(Arc::new(config))
}

/// What a caller needs.
pub fn client(key: &DeviceKey, expect: Expect) -> Result<Arc<ClientConfig>, Trouble> {
    let provider = Arc::new(ring::default_provider());
    let own = certified(&provider, key)?;
    let mut config = ClientConfig::builder_with_provider(Arc::clone(&provider))
        .with_protocol_versions(&[&TLS13])
        .map_err(|error| trouble(&error))?
        .dangerous()
        .with_custom_certificate_verifier(Keys::new(expect, &provider))
        .with_client_cert_resolver(Arc::new(AlwaysResolvesClientRawPublicKeys::new(own)));
    config.resumption = Resumption::disabled();
    config.alpn_protocols = vec![PROTOCOL.to_vec()];
    Ok(Arc::new(config))
}

/// The key that the other side has shown it holds.
pub fn key_of(certificates: Option<&[CertificateDer<'_>]>) -> Option<FullMark> {
    public(certificates?.first()?)
}

fn public(der: &[u8]) -> Option<FullMark> {
    Some(FullMark(der.strip_prefix(&PUBLIC_LEAD)?.try_into().ok()?))
}

fn certified(provider: &CryptoProvider, key: &DeviceKey) -> Result<Arc<CertifiedKey>, Trouble> {
    let secret = [SECRET_LEAD.as_slice(), &key.signing().to_bytes()].concat();
    let secret = PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(secret));
    let signer = provider.key_provider.load_private_key(secret).map_err(|error| trouble(&error))?;
    let public = [PUBLIC_LEAD.as_slice(), &key.signing().verifying_key().to_bytes()].concat();
    Ok(Arc::new(CertifiedKey::new(vec![CertificateDer::from(public)], signer)))
}

fn trouble(error: &Error) -> Trouble {
    Trouble::new(format!("the device's key cannot be used for connections: {error}"), "look at device.key")
}

/// Sees to it that the other side holds the key that it shows, and that it is the expected one.
#[derive(Debug)]
struct Keys {
    expect: Expect,
    algorithms: WebPkiSupportedAlgorithms,
}

impl Keys {
    fn new(expect: Expect, provider: &CryptoProvider) -> Arc<Self> {
        Arc::new(Self { expect, algorithms: provider.signature_verification_algorithms })
    }

    fn shown(&self, der: &[u8]) -> Result<(), Error> {
        let key = public(der).ok_or(Error::InvalidCertificate(CertificateError::BadEncoding))?;
        match self.expect {
            Expect::Key(expected) if expected != key => {
                Err(Error::InvalidCertificate(CertificateError::ApplicationVerificationFailure))
            }
            _ => Ok(()),
        }
    }

    fn held(
        &self,
        message: &[u8],
        der: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        let key = SubjectPublicKeyInfoDer::from(der.as_ref());
        verify_tls13_signature_with_raw_key(message, &key, signed, &self.algorithms)
    }
}

/// Nobody here speaks TLS 1.2.
fn too_old() -> Result<HandshakeSignatureValid, Error> {
    Err(Error::General("TLS 1.2 is not spoken here".to_owned()))
}

impl ServerCertVerifier for Keys {
    fn verify_server_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        _intermediates: &[CertificateDer<'_>],
        _server_name: &ServerName<'_>,
        _ocsp_response: &[u8],
        _now: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        self.shown(end_entity).map(|()| ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _message: &[u8],
        _cert: &CertificateDer<'_>,
        _dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        too_old()
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.held(message, cert, dss)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        vec![SignatureScheme::ED25519]
    }

    fn requires_raw_public_keys(&self) -> bool {
        true
    }
}

impl ClientCertVerifier for Keys {
    fn root_hint_subjects(&self) -> &[DistinguishedName] {
        &[]
    }

    fn verify_client_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        _intermediates: &[CertificateDer<'_>],
        _now: UnixTime,
    ) -> Result<ClientCertVerified, Error> {
        self.shown(end_entity).map(|()| ClientCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _message: &[u8],
        _cert: &CertificateDer<'_>,
        _dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        too_old()
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.held(message, cert, dss)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        vec![SignatureScheme::ED25519]
    }

    fn requires_raw_public_keys(&self) -> bool {
        true
    }
}
