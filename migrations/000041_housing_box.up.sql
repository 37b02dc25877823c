-- The bees that live and lived in a box are found at once.

CREATE INDEX housing_box ON housing (box_id, from_at DESC) WHERE box_id IS NOT NULL;
