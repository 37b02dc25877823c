DROP TABLE weather_day, rain_month, dry_operation;
