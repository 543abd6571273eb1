//! Forged, foreign, old and premature access tokens: all refused.

use jsonwebtoken::{Algorithm, EncodingKey, Header};
use quietbeam::access::token::{KeyError, KeyRing, Named, TokenRefused, Tokens};
use quietbeam::clock::Randomness;
use quietbeam_schema::ids::{MemberId, SignInId};
use quietbeam_schema::instant::Instant;
use serde_json::{Value, json};
use std::os::unix::fs::PermissionsExt;
use std::{fs, io::Write};

const KEY: &str = "8f1b3c5d7e9fa0b1c2d3e4f5061728394a5b6c7d8e9fb0c1d2e3f40516273849";
const ISSUER: &str = "https://registry.test";

fn key_bytes(hex: &str) -> Vec<u8> {
    (0..32).map(|index| u8::from_str_radix(&hex[2 * index..2 * index + 2], 16).unwrap()).collect()
}

fn ring(lines: &str) -> Result<KeyRing, KeyError> {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(lines.as_bytes()).unwrap();
    KeyRing::load_or_create(file.path(), &Randomness::system())
}

fn tokens() -> Tokens {
    Tokens::new(ring(KEY).unwrap(), ISSUER.to_owned(), ISSUER.to_owned())
}

fn now() -> Instant {
    "2026-11-25T09:00:00.000Z".parse().unwrap()
}

fn named() -> Named {
    Named { member: MemberId::from_random(1, [1; 10]), sign_in: SignInId::from_random(2, [2; 10]) }
}

/// Header and claims of a good token, to be spoilt.
fn good() -> (Value, Value) {
    let token = tokens().issue(named(), now(), &Randomness::seeded(1)).unwrap();
    let header = serde_json::to_value(jsonwebtoken::decode_header(&token).unwrap()).unwrap();
    let claims = jsonwebtoken::dangerous::insecure_decode::<Value>(&token).unwrap().claims;
    (header, claims)
}

/// Signs any header and claims with the right key.
fn sign(header: &Value, claims: &Value) -> String {
    let part = |value: &Value| base64url(value.to_string().as_bytes());
    let message = format!("{}.{}", part(header), part(claims));
    let key = EncodingKey::from_secret(&key_bytes(KEY));
    let signature = jsonwebtoken::crypto::sign(message.as_bytes(), &key, Algorithm::HS256).unwrap();
    format!("{message}.{signature}")
}

fn base64url(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut text = String::new();
    for chunk in bytes.chunks(3) {
        let mut word = [0_u8; 3];
        word[..chunk.len()].copy_from_slice(chunk);
        let bits = u32::from_be_bytes([0, word[0], word[1], word[2]]);
        for place in 0..=chunk.len() {
            text.push(LETTERS[(bits >> (18 - 6 * place) & 63) as usize] as char);
        }
    }
    text
}

fn with(mut object: Value, key: &str, value: Value) -> Value {
    object.as_object_mut().unwrap().insert(key.to_owned(), value);
    object
}

fn without(mut object: Value, key: &str) -> Value {
    object.as_object_mut().unwrap().remove(key).unwrap();
    object
}

fn refused(token: &str, expected: TokenRefused) {
    assert_eq!(tokens().check(token, now()), Err(expected), "{token}");
}

#[test]
fn a_good_token_names_its_member() {
    let (header, claims) = good();
    assert_eq!(tokens().check(&sign(&header, &claims), now()), Ok(named()));
}

#[test]
fn another_algorithm_is_refused() {
    let (header, claims) = good();
    refused(&sign(&with(header.clone(), "alg", json!("none")), &claims), TokenRefused::Malformed);
    let unsigned = sign(&with(header.clone(), "alg", json!("none")), &claims);
    refused(unsigned.rsplit_once('.').unwrap().0, TokenRefused::Malformed);
    for other in ["HS384", "HS512", "RS256", "ES256", "EdDSA"] {
        refused(&sign(&with(header.clone(), "alg", json!(other)), &claims), TokenRefused::Header);
    }
}

#[test]
fn another_key_is_refused() {
    let (_, claims) = good();
    let mut header = Header::new(Algorithm::HS256);
    header.typ = Some("at+jwt".to_owned());
    header.kid = good().0["kid"].as_str().map(str::to_owned);
    // The classic confusion: the text of a public key taken as the shared secret.
    for secret in
        ["-----BEGIN PUBLIC KEY-----\nMCowBQYDK2VwAyEA\n-----END PUBLIC KEY-----", "", "secret", KEY]
    {
        let token =
            jsonwebtoken::encode(&header, &claims, &EncodingKey::from_secret(secret.as_bytes())).unwrap();
        refused(&token, TokenRefused::Signature);
    }
    header.kid = Some("0123456789abcdef".to_owned());
    let token = jsonwebtoken::encode(&header, &claims, &EncodingKey::from_secret(&key_bytes(KEY))).unwrap();
    refused(&token, TokenRefused::Header);
}

#[test]
fn a_changed_token_is_refused() {
    let (header, claims) = good();
    let token = sign(&header, &claims);
    let other = sign(&header, &with(claims, "sub", json!(MemberId::from_random(9, [9; 10]))));
    let (body, _) = other.rsplit_once('.').unwrap();
    let (_, signature) = token.rsplit_once('.').unwrap();
    refused(&format!("{body}.{signature}"), TokenRefused::Signature);
}

#[test]
fn another_audience_or_issuer_is_refused() {
    let (header, claims) = good();
    for claim in ["aud", "iss"] {
        refused(
            &sign(&header, &with(claims.clone(), claim, json!("https://other.test"))),
            TokenRefused::Audience,
        );
        refused(&sign(&header, &with(claims.clone(), claim, json!([ISSUER]))), TokenRefused::Claims);
    }
}

#[test]
fn every_claim_is_required_and_none_may_be_added() {
    let (header, claims) = good();
    for claim in ["iss", "aud", "sub", "sid", "jti", "iat", "nbf", "exp"] {
        refused(&sign(&header, &without(claims.clone(), claim)), TokenRefused::Claims);
        refused(&sign(&header, &with(claims.clone(), claim, Value::Null)), TokenRefused::Claims);
    }
    refused(&sign(&header, &with(claims.clone(), "role", json!("administrator"))), TokenRefused::Claims);
    for wrong in [json!("1795597800"), json!(-1), json!(1.5e300), json!(true)] {
        refused(&sign(&header, &with(claims.clone(), "exp", wrong)), TokenRefused::Claims);
    }
}

#[test]
fn lifetime_is_ten_minutes_with_five_seconds_of_leeway() {
    let token = tokens().issue(named(), now(), &Randomness::seeded(1)).unwrap();
    let at = |seconds| tokens().check(&token, now().plus_seconds(seconds));
    for good in [-5, 0, 599, 600, 605] {
        assert_eq!(at(good), Ok(named()), "{good}");
    }
    for bad in [-6, -3600, 606, 86_400] {
        assert_eq!(at(bad), Err(TokenRefused::Lifetime), "{bad}");
    }
}

#[test]
fn a_token_that_would_live_longer_is_refused() {
    let (header, claims) = good();
    let seconds = now().unix_seconds();
    refused(&sign(&header, &with(claims.clone(), "exp", json!(seconds + 601))), TokenRefused::Lifetime);
    refused(&sign(&header, &with(claims.clone(), "exp", json!(u64::MAX))), TokenRefused::Lifetime);
    refused(&sign(&header, &with(claims.clone(), "nbf", json!(seconds + 60))), TokenRefused::Lifetime);
    refused(&sign(&header, &with(claims, "iat", json!(seconds + 60))), TokenRefused::Lifetime);
}

#[test]
fn headers_that_bring_or_name_a_key_are_refused() {
    let (header, claims) = good();
    let jwk = json!({ "kty": "oct", "k": base64url(b"an attacker's own key, 32 bytes!") });
    for (name, value) in [
        ("jwk", jwk),
        ("jku", json!("https://evil.test/keys")),
        ("x5u", json!("https://evil.test/cert")),
        ("x5c", json!(["AAAA"])),
        ("crit", json!(["exp"])),
        ("cty", json!("JWT")),
        ("zip", json!("DEF")),
        ("anything", json!(1)),
    ] {
        refused(&sign(&with(header.clone(), name, value), &claims), TokenRefused::Header);
    }
    refused(&sign(&with(header.clone(), "typ", json!("JWT")), &claims), TokenRefused::Header);
    refused(&sign(&without(header.clone(), "typ"), &claims), TokenRefused::Header);
    refused(&sign(&without(header, "kid"), &claims), TokenRefused::Header);
}

#[test]
fn what_is_no_token_is_refused() {
    for text in ["", ".", "..", "...", "a.b.c", "Bearer x", &"x".repeat(100_000), "null", "é.é.é"] {
        refused(text, TokenRefused::Malformed);
    }
}

#[test]
fn a_former_key_still_verifies_but_no_longer_signs() {
    let new_key = "1f2e3d4c5b6a79880716253443526170f0e1d2c3b4a5968778695a4b3c2d1e0f";
    let rotated =
        Tokens::new(ring(&format!("{new_key}\n{KEY}\n")).unwrap(), ISSUER.to_owned(), ISSUER.to_owned());
    let old = tokens().issue(named(), now(), &Randomness::seeded(1)).unwrap();
    assert_eq!(rotated.check(&old, now()), Ok(named()));
    let new = rotated.issue(named(), now(), &Randomness::seeded(1)).unwrap();
    assert_eq!(rotated.check(&new, now()), Ok(named()));
    assert_eq!(tokens().check(&new, now()), Err(TokenRefused::Header));
}

#[test]
fn the_key_file_is_made_for_its_owner_only_and_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("token.key");
    let load = || KeyRing::load_or_create(&path, &Randomness::system());
    let first = Tokens::new(load().unwrap(), ISSUER.to_owned(), ISSUER.to_owned());
    assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
    let second = Tokens::new(load().unwrap(), ISSUER.to_owned(), ISSUER.to_owned());
    let token = first.issue(named(), now(), &Randomness::system()).unwrap();
    assert_eq!(second.check(&token, now()), Ok(named()));
    fs::set_permissions(&path, fs::Permissions::from_mode(0o644)).unwrap();
    assert!(matches!(load(), Err(KeyError::Open { .. })));
}

#[test]
fn weak_keys_are_refused() {
    for weak in ["", "secret", &"0".repeat(64), &"ab".repeat(32), &KEY[..62], &format!("{KEY}00")] {
        assert!(matches!(ring(weak), Err(KeyError::Weak { .. })), "{weak}");
    }
}
