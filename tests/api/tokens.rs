//! Access tokens that were forged, changed, borrowed or kept too long, sent to the server.

use crate::network::coordinator;
use jsonwebtoken::{Algorithm, EncodingKey};
use quietbeam::access::token::{KeyRing, Named, Tokens};
use quietbeam::clock::Randomness;
use quietbeam_schema::ids::{MemberId, SignInId};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::{Desk, PASSWORD};
use quietbeam_tests::server::{Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};
use std::io::Write;

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

fn base64url(bytes: &[u8]) -> String {
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

fn from_base64url(text: &str) -> Vec<u8> {
    let (mut bits, mut held, mut bytes) = (0_u32, 0, Vec::new());
    for letter in text.bytes() {
        let value = LETTERS.iter().position(|known| *known == letter).unwrap() as u32;
        bits = bits << 6 | value;
        held += 6;
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held & 255) as u8);
        }
    }
    bytes
}

/// The parts of a good token.
fn parts(token: &str) -> (Value, Value, String) {
    let mut parts = token.split('.');
    let mut json = || serde_json::from_slice(&from_base64url(parts.next().unwrap())).unwrap();
    let (header, claims) = (json(), json());
    (header, claims, parts.next().unwrap().to_owned())
}

fn join(header: &Value, claims: &Value, signature: &str) -> String {
    let part = |value: &Value| base64url(value.to_string().as_bytes());
    format!("{}.{}.{signature}", part(header), part(claims))
}

fn refused(member: &SignedIn<'_>, token: &str) {
    let problem = member.with_token(token).get("/me").problem(401, "signed_out");
    assert!(!problem.to_string().contains(token), "the token is repeated");
}

const KEY: &str = "8f1b3c5d7e9fa0b1c2d3e4f5061728394a5b6c7d8e9fb0c1d2e3f40516273849";

fn known_key() -> KeyRing {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(KEY.as_bytes()).unwrap();
    KeyRing::load_or_create(file.path(), &Randomness::system()).unwrap()
}

/// A token with these parts under the known key.
fn sign(header: &Value, claims: &Value) -> String {
    let message = join(header, claims, "");
    let message = message.trim_end_matches('.');
    let bytes: Vec<u8> =
        (0..32).map(|at| u8::from_str_radix(&KEY[2 * at..2 * at + 2], 16).unwrap()).collect();
    let key = EncodingKey::from_secret(&bytes);
    let signature = jsonwebtoken::crypto::sign(message.as_bytes(), &key, Algorithm::HS256).unwrap();
    format!("{message}.{signature}")
}

fn with(object: &Value, key: &str, value: Value) -> Value {
    let mut object = object.clone();
    object[key] = value;
    object
}

on_both_stores! {
    fn a_token_without_signature_or_under_another_one_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let (header, claims, signature) = parts(&member.token);
        refused(&member, &join(&json!({ "alg": "none", "typ": "at+jwt" }), &claims, ""));
        refused(&member, &join(&json!({ "alg": "none", "typ": "at+jwt", "kid": header["kid"] }), &claims, &signature));
        let message = join(&header, &claims, "");
        let message = message.trim_end_matches('.');
        for secret in [&b""[..], b"secret", header["kid"].as_str().unwrap().as_bytes()] {
            let key = EncodingKey::from_secret(secret);
            let forged = jsonwebtoken::crypto::sign(message.as_bytes(), &key, Algorithm::HS256).unwrap();
            refused(&member, &format!("{message}.{forged}"));
        }
        member.get("/me").expect(200);
    }

    fn a_changed_claim_or_header_breaks_the_signature(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let (header, claims, signature) = parts(&member.token);
        for claim in ["sub", "sid", "iss", "aud", "exp", "nbf", "iat", "jti"] {
            let mut changed = claims.clone();
            changed[claim] = json!("somebody else");
            refused(&member, &join(&header, &changed, &signature));
            changed.as_object_mut().unwrap().remove(claim);
            refused(&member, &join(&header, &changed, &signature));
        }
        for (field, value) in [
            ("jwk", json!({ "kty": "oct", "k": "c2VjcmV0" })),
            ("jku", json!("http://127.0.0.1:1/keys")),
            ("x5u", json!("http://127.0.0.1:1/keys")),
            ("crit", json!(["exp"])),
            ("kid", json!("../../token.key")),
        ] {
            let mut changed = header.clone();
            changed[field] = value;
            refused(&member, &join(&changed, &claims, &signature));
        }
    }

    /// Well signed, but by a registry with another key or for another audience.
    fn a_token_of_another_registry_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let randomness = Randomness::system();
        let (_, claims, _) = parts(&member.token);
        let named = Named {
            member: claims["sub"].as_str().unwrap().parse::<MemberId>().unwrap(),
            sign_in: claims["sid"].as_str().unwrap().parse::<SignInId>().unwrap(),
        };
        let keys = KeyRing::generate(&randomness).unwrap();
        let foreign = Tokens::new(keys, "https://registry.test".to_owned(), "https://registry.test".to_owned());
        refused(&member, &foreign.issue(named, registry.clock.now(), &randomness).unwrap());
    }

    fn a_token_ends_after_ten_minutes_and_five_seconds(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        registry.hand.advance(605);
        member.get("/me").expect(200);
        registry.hand.advance(1);
        member.get("/me").problem(401, "signed_out");
    }

    fn a_token_from_the_future_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        registry.hand.advance(-6);
        member.get("/me").problem(401, "signed_out");
    }

    fn access_and_refresh_tokens_do_not_stand_in_for_each_other(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        refused(&member, &member.refresh_token);
        let body = json!({ "refresh_token": member.token });
        served.stranger().post("/sessions/refresh", &body).problem(401, "sign_in_failed");
    }

    fn anything_else_in_the_header_counts_as_signed_out(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let token = &member.token;
        let long = format!("Bearer {}", "x".repeat(4000));
        for value in ["", "Bearer", "Bearer ", "Basic cm9vdDpyb290", "Bearer a.b.c", "Bearer ..", &long, token] {
            let asked = Asked::new("GET", "/me").header("authorization", value);
            served.stranger().send(&asked).problem(401, "signed_out");
        }
        let twice = Asked::new("GET", "/me")
            .header("authorization", format!("Bearer {token}"))
            .header("authorization", format!("Bearer {token}"));
        served.stranger().send(&twice).problem(401, "signed_out");
        let answer = served.stranger().get("/me").expect(401);
        assert_eq!(answer.header("www-authenticate"), Some("Bearer"));
    }

    /// Signed with the right key: what the claims and the header say must be right too.
    fn a_well_signed_token_with_other_claims_is_refused(registry) {
        let served = Served::at(Desk::with_keys(registry, known_key()));
        let member = coordinator(&served);
        let (header, claims, _) = parts(&member.token);
        let renamed = sign(&header, &with(&claims, "jti", json!("another")));
        member.with_token(renamed).get("/me").expect(200);
        for claim in ["iss", "aud", "sub", "sid", "jti", "iat", "nbf", "exp"] {
            let mut missing = claims.clone();
            missing.as_object_mut().unwrap().remove(claim);
            refused(&member, &sign(&header, &missing));
        }
        let now = registry.clock.now().unix_seconds();
        for (claim, value) in [
            ("aud", json!("https://other.test")),
            ("iss", json!("https://other.test")),
            ("exp", json!(now - 6)),
            ("exp", json!(now + 601)),
            ("nbf", json!(now + 6)),
            ("sid", json!("0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b")),
            ("sub", json!("0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b")),
            ("role", json!("administrator")),
        ] {
            refused(&member, &sign(&header, &with(&claims, claim, value)));
        }
        for (name, value) in [
            ("alg", json!("none")),
            ("alg", json!("HS512")),
            ("typ", json!("JWT")),
            ("jwk", json!({ "kty": "oct", "k": "c2VjcmV0" })),
            ("jku", json!("http://127.0.0.1:1/keys")),
            ("crit", json!(["exp"])),
        ] {
            refused(&member, &sign(&with(&header, name, value), &claims));
        }
    }

    /// A program whose token ran out must still be able to sign in and to read what is public.
    fn an_old_token_does_not_shut_the_public_door(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        registry.hand.advance(3600);
        let body = json!({ "sign_in_name": "coordinator.s07", "password": PASSWORD });
        member.send(&Asked::new("POST", "/sessions").json(&body)).expect(200);
        for path in ["/dictionary", "/summaries", "//livez"] {
            member.get(path).expect(200);
        }
        member.get("/me").problem(401, "signed_out");
    }

    fn a_token_ends_with_its_sign_in(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let elsewhere = served.sign_in("coordinator.s07");
        elsewhere.send(&Asked::new("DELETE", "/sessions/current")).expect(204);
        refused(&elsewhere, &elsewhere.token);
        elsewhere.send(&Asked::new("DELETE", "/sessions/current")).problem(401, "signed_out");
        member.get("/me").expect(200);
    }
}
