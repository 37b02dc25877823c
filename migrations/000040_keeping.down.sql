COMMENT ON COLUMN colony_keeper.agreed IS NULL;
UPDATE colony_keeper k SET agreed = g.agreed FROM keeping g WHERE g.colony_id = k.colony_id AND g.ended_at IS NULL AND k.to_at IS NULL AND k.party_id IS NULL AND k.agreed = '';
DROP TABLE keeping;
