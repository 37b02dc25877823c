DROP TABLE milling_pace;
