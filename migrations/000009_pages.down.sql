DROP INDEX item_may_be_low;
DROP INDEX build_due;
DROP INDEX order_unit_due;
DROP INDEX quote_revises;
DROP INDEX party_page;
