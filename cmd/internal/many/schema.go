package many

// steps bring the form of our tables forward, each from the version of its place to the next; the first makes it. What tables and columns
// mean stands in doc.go. Statements end with a semicolon and the end of a line.
var steps = []string{`CREATE TABLE form (version integer NOT NULL);
INSERT INTO form VALUES (0);
CREATE TABLE batch (id bigserial PRIMARY KEY, mark text NOT NULL UNIQUE, spec json NOT NULL, made timestamptz NOT NULL DEFAULT now(), shared boolean NOT NULL DEFAULT false, findings json NOT NULL DEFAULT '[]', fault text NOT NULL DEFAULT '');
CREATE TABLE bundle (id bigserial PRIMARY KEY, batch bigint NOT NULL REFERENCES batch ON DELETE CASCADE, kind text NOT NULL CHECK (kind IN ('survey', 'share', 'work')), job bigint, done boolean NOT NULL DEFAULT false);
CREATE INDEX bundle_open ON bundle (batch, kind) WHERE NOT done;
CREATE INDEX bundle_of_job ON bundle (job);
CREATE TABLE log (batch bigint NOT NULL REFERENCES batch ON DELETE CASCADE, place integer NOT NULL, bundle bigint NOT NULL, log json NOT NULL, survey json, PRIMARY KEY (batch, place));
CREATE INDEX log_of_bundle ON log (bundle, place);
CREATE TABLE survey (key text PRIMARY KEY, survey json NOT NULL);
CREATE TABLE operation (batch bigint NOT NULL REFERENCES batch ON DELETE CASCADE, key text NOT NULL, place integer NOT NULL, bundle bigint NOT NULL, task json NOT NULL, PRIMARY KEY (batch, key));
CREATE INDEX operation_of_bundle ON operation (bundle, place);
CREATE INDEX operation_of_key ON operation (key);
CREATE TABLE lease (job bigint PRIMARY KEY, worker text NOT NULL, until timestamptz NOT NULL);
CREATE TABLE result (key text NOT NULL, part integer NOT NULL, state text NOT NULL, field integer NOT NULL, field_name text NOT NULL, farm text NOT NULL, set text NOT NULL, driver text NOT NULL, machine text NOT NULL,
  days text NOT NULL, begun timestamptz, ended timestamptz, logs text[] NOT NULL, area double precision NOT NULL, worked double precision NOT NULL, twice double precision NOT NULL, missed double precision NOT NULL,
  unknown double precision NOT NULL, outside double precision NOT NULL, metres double precision NOT NULL, seconds double precision NOT NULL, litres double precision NOT NULL, strips integer NOT NULL, answer text NOT NULL,
  fault_file text NOT NULL, fault_record integer NOT NULL, fault text NOT NULL, lost json NOT NULL, program text NOT NULL, form integer NOT NULL, took double precision NOT NULL, worker text NOT NULL, at timestamptz NOT NULL DEFAULT now(),
  boundary geometry(MultiPolygon, 4326), PRIMARY KEY (key, part));
CREATE INDEX result_by_place ON result USING gist (boundary);
CREATE INDEX result_by_begin ON result (begun);
CREATE INDEX result_by_time ON result (at);
COMMENT ON TABLE result IS 'a row per operation on a field: areas in m2, lengths in m, times UTC; boundary is that of the field'`,
	`CREATE TABLE strip (key text NOT NULL, part integer NOT NULL, number integer NOT NULL, area double precision NOT NULL, length double precision NOT NULL, mean_width double precision NOT NULL, max_width double precision NOT NULL,
  bearing double precision NOT NULL, cause text NOT NULL, surety text NOT NULL, certain double precision NOT NULL, likely double precision NOT NULL, headland boolean NOT NULL, shape geometry(MultiPolygon, 4326) NOT NULL,
  PRIMARY KEY (key, part, number), FOREIGN KEY (key, part) REFERENCES result ON DELETE CASCADE);
CREATE INDEX strip_by_place ON strip USING gist (shape);
COMMENT ON TABLE strip IS 'a row per missed strip of an operation, whose key and part are those of result: areas in m2, lengths in m'`,
	`ALTER TABLE result ADD COLUMN wear json NOT NULL DEFAULT 'null'`}
