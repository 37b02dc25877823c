-- Mail that is to go out: queued with what it carries, tried again, never sent twice.

CREATE TABLE mail (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    paper text NOT NULL CONSTRAINT mail_paper CHECK (length(paper) BETWEEN 1 AND 40),
    number text NOT NULL CONSTRAINT mail_number CHECK (length(number) BETWEEN 1 AND 60),
    to_address words NOT NULL CONSTRAINT mail_to CHECK (length(trim(to_address)) > 0),
    subject words NOT NULL CONSTRAINT mail_subject CHECK (length(trim(subject)) > 0),
    body prose NOT NULL,
    pdf bytea NOT NULL,
    message_id text NOT NULL CONSTRAINT mail_message_id_once UNIQUE,
    queued_at timestamptz NOT NULL,
    next_try_at timestamptz NOT NULL,
    tries int NOT NULL DEFAULT 0 CONSTRAINT mail_tries CHECK (tries >= 0),
    sending_until timestamptz,
    sent_at timestamptz,
    gave_up_at timestamptz,
    said prose NOT NULL DEFAULT '',
    CONSTRAINT mail_one_end CHECK (sent_at IS NULL OR gave_up_at IS NULL)
);
CREATE INDEX mail_waiting ON mail (next_try_at, id) WHERE sent_at IS NULL AND gave_up_at IS NULL;
CREATE INDEX mail_of_paper ON mail (paper, number, id);
COMMENT ON TABLE mail IS 'Mail with a paper: queued, and sent at most once.';
COMMENT ON COLUMN mail.paper IS 'which paper goes with it, as kerfbook print names it';
COMMENT ON COLUMN mail.sending_until IS 'while it is on its way; when this is past without an end, it may have gone';
COMMENT ON COLUMN mail.said IS 'what the mail server said last';
