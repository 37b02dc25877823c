-- Pieces of which no day is agreed yet are found at once.

CREATE INDEX order_unit_no_day ON order_unit (id) WHERE handed_over_at IS NULL AND cancelled_at IS NULL AND (wants_box AND NOT own_box AND promised_box_on IS NULL OR wants_colony AND promised_colony_on IS NULL);
