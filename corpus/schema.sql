-- The index of a library. It can be deleted at any time: `samechanges index` makes it again from the charts.
-- Code points and marks of the string columns are described in corpus/codes.py and in the table `slots`.

CREATE TABLE about (schema_version INTEGER, made TIMESTAMP);

-- One row for every chart that was read without fault.
CREATE TABLE charts (
    id INTEGER PRIMARY KEY,
    path VARCHAR,              -- relative to the library
    title VARCHAR,             -- as written, else the file's stem
    key VARCHAR,               -- home key, as a header would spell it
    key_found BOOLEAN,         -- true where no key was written
    key_chance DOUBLE,         -- the chance of a found key, 0 to 1; null where it was written
    key_rival VARCHAR,         -- the next likeliest key of a found one
    mode VARCHAR,
    minor BOOLEAN,             -- true where all of it is in one natural minor key
    metre VARCHAR,
    tempo DOUBLE,              -- beats a minute
    style VARCHAR,
    level DOUBLE,
    year INTEGER,
    tags VARCHAR[],
    bars INTEGER,              -- as written
    played INTEGER,            -- bars as played
    events INTEGER,            -- chords as played, equal neighbours joined
    tonic VARCHAR,             -- counted from the tonic of the key in force
    relative VARCHAR,          -- segments with a minor third counted from their relative major; null without such,
                               -- and where `minor` says that it is `tonic` counted from three semitones higher
    major VARCHAR,             -- segments with a major third; null where that is all of `tonic`, or none
    fixed VARCHAR,             -- counted from the home tonic throughout; null where that is `tonic`
    tonic_bars VARCHAR,        -- the same four, bar by bar
    relative_bars VARCHAR,
    major_bars VARCHAR,
    fixed_bars VARCHAR,
    names VARCHAR,             -- chords as written, a space between them: of each code point, in the order in which
                               -- they first come; of all events where a code point is written in two ways
    begun USMALLINT[],         -- for each played bar how many events begin in it
    written STRUCT(first_bar USMALLINT, last_bar USMALLINT)[],  -- the written bars that are played in a row
    segments STRUCT(key VARCHAR, first USMALLINT, last USMALLINT, from_bar USMALLINT, to_bar USMALLINT)[],
    sections STRUCT(label VARCHAR, first_bar USMALLINT, last_bar USMALLINT)[]  -- as written
);

-- For each event the played bar in which it begins, from 0: of `begun`.
CREATE MACRO event_bars(begun) AS
    flatten(list_transform(begun, lambda events, bar: list_transform(range(events), lambda event: bar - 1)));
-- For each played bar its number as written: of `written`.
CREATE MACRO played_bars(written) AS
    flatten(list_transform(written, lambda run: range(run.first_bar::INTEGER, run.last_bar::INTEGER + 1)));

-- Every header of every chart, known or not.
CREATE TABLE headers (chart INTEGER, name VARCHAR, value VARCHAR);

-- Sections as written: their bars from first_bar to last_bar.
CREATE VIEW sections AS
SELECT id AS chart, position, section.label AS label, section.first_bar AS first_bar, section.last_bar AS last_bar
FROM (SELECT id, unnest(sections) AS section, generate_subscripts(sections, 1) AS position FROM charts);

-- Every file that was seen, by the hash of its content (half of its SHA-256); chart is null where it has faults.
CREATE TABLE files (path VARCHAR, hash VARCHAR, chart INTEGER);

-- Faults (severity 'fault') keep a chart out of the index, remarks do not. Lines and columns count from 1.
CREATE TABLE faults (
    path VARCHAR, severity VARCHAR, line INTEGER, col INTEGER, length INTEGER,
    message VARCHAR, expected VARCHAR, nearest VARCHAR, text VARCHAR
);

-- Short sequences of every tune (see corpus/grams.py), sorted by gram, then chart; and how many there are of each.
CREATE TABLE grams (gram INTEGER, chart INTEGER, times USMALLINT);
CREATE TABLE gram_counts (gram INTEGER, charts INTEGER, times BIGINT);

-- What a code point stands for: first + (degree * 12 + bass) * size + slot, degree and bass in semitones from the tonic.
-- `tones` has bit n set where the pitch n semitones above the root sounds; `name` is null for qualities outside the table.
CREATE TABLE slots (first INTEGER, size INTEGER, slot INTEGER, family VARCHAR, tones INTEGER, name VARCHAR);

-- One row for every chord as played, counted from the home tonic (semitones), with where it begins as written.
CREATE VIEW events AS
WITH codes AS (
    SELECT id, string_split(names, ' ') AS names, event_bars(begun) AS event_bars, played_bars(written) AS played_bars,
        regexp_extract_all(coalesce(fixed, tonic), '[^<>!]') AS signs
    FROM charts
), first AS (
    SELECT *, list_filter(signs, lambda sign, place: list_position(signs, sign) = place) AS firsts FROM codes
), placed AS (
    SELECT id AS chart, generate_subscripts(signs, 1) AS position, ord(unnest(signs)) AS code,
        unnest(CASE WHEN len(names) = len(signs) THEN names
            ELSE list_transform(signs, lambda sign: names[list_position(firsts, sign)]) END) AS chord,
        unnest(list_transform(event_bars, lambda bar: played_bars[bar + 1])) AS bar
    FROM first
)
SELECT placed.chart, placed.position, sections.label AS section, bar, chord,
    (code - slots.first) // size // 12 AS degree, (code - slots.first) // size % 12 AS bass, family, tones, slots.name AS quality
FROM placed
JOIN slots ON (code >= 65536) = (slots.first >= 65536) AND (code - slots.first) % size = slot
LEFT JOIN sections ON sections.chart = placed.chart AND bar BETWEEN first_bar AND last_bar;
