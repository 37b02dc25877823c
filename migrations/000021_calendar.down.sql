ALTER TABLE away DROP COLUMN noted_at;
DROP TABLE calendar_feed, calendar_book;
