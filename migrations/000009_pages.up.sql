-- Indexes that serve the order of a page, so that a list in a large book reads its page
-- and not the whole book.
CREATE INDEX party_page ON party (lower(name::text), id) WHERE joined_into_id IS NULL AND put_away_at IS NULL;
CREATE INDEX quote_revises ON quote (revises_id) WHERE revises_id IS NOT NULL;
CREATE INDEX order_unit_due ON order_unit (least(promised_box_on, promised_colony_on), id) WHERE handed_over_at IS NULL AND cancelled_at IS NULL;
CREATE INDEX build_due ON build (coalesce(due_on, '9999-12-31'::date), id) WHERE finished_at IS NULL AND cancelled_at IS NULL;
CREATE INDEX item_may_be_low ON item (code) WHERE put_away_at IS NULL AND ((NOT counted AND low) OR (counted AND low_mark > 0));
