CREATE TABLE member (
    id TEXT NOT NULL PRIMARY KEY,
    sign_in_name TEXT NOT NULL UNIQUE,
    printed_name TEXT NOT NULL,
    role TEXT NOT NULL,
    password_hash TEXT NOT NULL,
    auth_epoch INTEGER NOT NULL,
    created_at TEXT NOT NULL,
    disabled_at TEXT
) STRICT;

CREATE TABLE member_centre (
    member TEXT NOT NULL REFERENCES member (id),
    centre TEXT NOT NULL REFERENCES centre (code),
    PRIMARY KEY (member, centre)
) STRICT;

CREATE TABLE sign_in (
    id TEXT NOT NULL PRIMARY KEY,
    member TEXT NOT NULL REFERENCES member (id),
    kind TEXT NOT NULL,
    auth_epoch INTEGER NOT NULL,
    began_at TEXT NOT NULL,
    last_used_at TEXT NOT NULL,
    ends_at TEXT NOT NULL,
    ended_at TEXT
) STRICT;
CREATE INDEX sign_in_of_member ON sign_in (member);

CREATE TABLE refresh_token (
    token_hash TEXT NOT NULL PRIMARY KEY,
    sign_in TEXT NOT NULL REFERENCES sign_in (id),
    issued_at TEXT NOT NULL,
    rotated_at TEXT
) STRICT;
CREATE INDEX refresh_token_of_sign_in ON refresh_token (sign_in);

CREATE TABLE idempotency (
    actor TEXT NOT NULL,
    route TEXT NOT NULL,
    key TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    status INTEGER NOT NULL,
    body TEXT NOT NULL,
    at TEXT NOT NULL,
    PRIMARY KEY (actor, route, key)
) STRICT;
CREATE INDEX idempotency_by_age ON idempotency (at);
