CREATE TABLE member (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    sign_in_name TEXT COLLATE "C" NOT NULL UNIQUE,
    printed_name TEXT COLLATE "C" NOT NULL,
    role TEXT COLLATE "C" NOT NULL,
    password_hash TEXT COLLATE "C" NOT NULL,
    auth_epoch BIGINT NOT NULL,
    created_at TEXT COLLATE "C" NOT NULL,
    disabled_at TEXT COLLATE "C"
);

CREATE TABLE member_centre (
    member TEXT COLLATE "C" NOT NULL REFERENCES member (id),
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    PRIMARY KEY (member, centre)
);

CREATE TABLE sign_in (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    member TEXT COLLATE "C" NOT NULL REFERENCES member (id),
    kind TEXT COLLATE "C" NOT NULL,
    auth_epoch BIGINT NOT NULL,
    began_at TEXT COLLATE "C" NOT NULL,
    last_used_at TEXT COLLATE "C" NOT NULL,
    ends_at TEXT COLLATE "C" NOT NULL,
    ended_at TEXT COLLATE "C"
);
CREATE INDEX sign_in_of_member ON sign_in (member);

CREATE TABLE refresh_token (
    token_hash TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    sign_in TEXT COLLATE "C" NOT NULL REFERENCES sign_in (id),
    issued_at TEXT COLLATE "C" NOT NULL,
    rotated_at TEXT COLLATE "C"
);
CREATE INDEX refresh_token_of_sign_in ON refresh_token (sign_in);

CREATE TABLE idempotency (
    actor TEXT COLLATE "C" NOT NULL,
    route TEXT COLLATE "C" NOT NULL,
    key TEXT COLLATE "C" NOT NULL,
    fingerprint TEXT COLLATE "C" NOT NULL,
    status BIGINT NOT NULL,
    body TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (actor, route, key)
);
CREATE INDEX idempotency_by_age ON idempotency (at);
