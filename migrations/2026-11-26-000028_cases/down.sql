DROP TABLE case_events;
DROP TABLE cases;
