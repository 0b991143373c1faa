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
    metre VARCHAR,
    tempo DOUBLE,              -- beats a minute
    style VARCHAR,
    level DOUBLE,
    year INTEGER,
    tags VARCHAR[],
    bars INTEGER,              -- as written
    events INTEGER,            -- chords as played, equal neighbours joined
    tonic VARCHAR,             -- counted from the tonic of the key in force
    relative VARCHAR,          -- segments with a minor third counted from their relative major; null without such
    major VARCHAR,             -- segments with a major third; null where that is all of `tonic`
    fixed VARCHAR,             -- counted from the home tonic throughout; null where that is `tonic`
    tonic_bars VARCHAR,        -- the same four, bar by bar
    relative_bars VARCHAR,
    major_bars VARCHAR,
    fixed_bars VARCHAR,
    chords VARCHAR,            -- the events' chords as written, a space between them
    event_bars USMALLINT[],    -- for each event the played bar in which it begins, from 0
    played_bars USMALLINT[],   -- for each played bar its number as written, from 1
    segments STRUCT(key VARCHAR, first USMALLINT, last USMALLINT, from_bar USMALLINT, to_bar USMALLINT)[]
);

-- Every header of every chart, known or not.
CREATE TABLE headers (chart INTEGER, name VARCHAR, value VARCHAR);

-- Sections as written: their bars from first_bar to last_bar.
CREATE TABLE sections (chart INTEGER, position INTEGER, label VARCHAR, first_bar INTEGER, last_bar INTEGER);

-- Every file that was seen, by the hash of its content; chart is null where it has faults.
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
    SELECT id, chords, event_bars, played_bars,
        unnest(regexp_extract_all(coalesce(fixed, tonic), '[^<>!]')) AS sign,
        generate_subscripts(regexp_extract_all(coalesce(fixed, tonic), '[^<>!]'), 1) AS position
    FROM charts
), placed AS (
    SELECT id AS chart, position, string_split(chords, ' ')[position] AS chord,
        played_bars[event_bars[position] + 1] AS bar, ord(sign) AS code
    FROM codes
)
SELECT placed.chart, placed.position, sections.label AS section, bar, chord,
    (code - slots.first) // size // 12 AS degree, (code - slots.first) // size % 12 AS bass, family, tones, slots.name AS quality
FROM placed
JOIN slots ON (code >= 65536) = (slots.first >= 65536) AND (code - slots.first) % size = slot
LEFT JOIN sections ON sections.chart = placed.chart AND bar BETWEEN first_bar AND last_bar;
