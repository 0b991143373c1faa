-- The index of a library. It can be deleted at any time: `samechanges index` makes it again from the charts.
-- Code points and marks of the string columns are described in corpus/codes.py and in the table `slots`.

CREATE TABLE about (schema_version INTEGER, made TIMESTAMP);

-- One row for every chart that was read without fault.
CREATE TABLE charts (
    id INTEGER,                -- ascending; no key of DuckDB's, which would take as much room as the titles
    path VARCHAR,              -- relative to the library
    hash UBIGINT,              -- of the file's content: the first quarter of its SHA-256; null where there is no file
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
    told UTINYINT,             -- which headers the columns tell word for word (see `headers`), one bit each
    bars INTEGER,              -- as written
    played INTEGER,            -- bars as played
    events INTEGER,            -- chords as played, equal neighbours joined
    -- Tunes repeat their sections. Of `tonic` each piece is kept once, a | between them; its form is their order by
    -- number, from 1, and null where they stand as they are. `bars_form` is null too where it is that of `tonic`. The
    -- bars are packed tighter, at the cost of being slow where single charts are looked at.
    tonic_form VARCHAR,
    tonic_pieces VARCHAR,
    bars_form VARCHAR,
    bars_pieces VARCHAR USING COMPRESSION zstd,
    -- Counted from the key in force:
    tonic VARCHAR GENERATED ALWAYS AS (coalesce(
        array_to_string(list_select(string_split(tonic_pieces, '|'), string_split(tonic_form, ' ')::USMALLINT[]), ''),
        tonic_pieces
    )) VIRTUAL,
    relative VARCHAR,          -- segments with a minor third counted from their relative major; null without such,
                               -- and where `minor` says that it is `tonic` counted from three semitones higher
    major VARCHAR,             -- segments with a major third; null where that is all of `tonic`, or none
    fixed VARCHAR,             -- counted from the home tonic throughout; null where that is `tonic`
    -- The same four, bar by bar:
    tonic_bars VARCHAR GENERATED ALWAYS AS (coalesce(
        array_to_string(list_select(
            string_split(bars_pieces, '|'), string_split(coalesce(bars_form, tonic_form), ' ')::USMALLINT[]
        ), ''),
        bars_pieces
    )) VIRTUAL,
    relative_bars VARCHAR,
    major_bars VARCHAR,
    fixed_bars VARCHAR,
    names VARCHAR,             -- chords as written, a space between them: of each code point, in the order in which
                               -- they first come; of all events where a code point is written in two ways
    -- Where things stand, as strings, of which single ones are read faster than lists:
    begun VARCHAR,             -- for each played bar how many events begin in it: 0, 1 ... 9, then the code points on
    written VARCHAR,           -- the written bars that are played in a row: 1-8 1-8 9-16
    segments VARCHAR,          -- the keys it passes through, a line each: first and last event, first and last played
                               -- bar, key (0-15 0-7 Bb); null where all that is played is in `key`
    sections VARCHAR           -- as written, a line each: first and last bar, label if any (9-16 Verse 2)
);

-- For each event the played bar in which it begins, from 0: of `begun`.
CREATE MACRO event_bars(begun) AS flatten(list_transform(
    string_split(begun, ''), lambda sign, bar: list_transform(range(ord(sign) - 48), lambda event: bar - 1)
));
-- For each played bar its number as written: of `written`.
CREATE MACRO played_bars(written) AS flatten(list_transform(string_split(written, ' '), lambda run:
    range(split_part(run, '-', 1)::INTEGER, split_part(run, '-', 2)::INTEGER + 1)
));
-- The keys that a tune passes through.
CREATE MACRO key_segments(segments, key, events, played) AS CASE WHEN segments IS NULL
    THEN [{'key': key, 'first': 0, 'last': events - 1, 'from_bar': 0, 'to_bar': played - 1}]
    ELSE list_transform(list_filter(string_split(segments, chr(10)), lambda line: line <> ''), lambda line: {
        'key': regexp_extract(line, '^\S+ \S+ (.*)', 1),
        'first': split_part(line, '-', 1)::INTEGER,
        'last': split_part(split_part(line, ' ', 1), '-', 2)::INTEGER,
        'from_bar': split_part(split_part(line, ' ', 2), '-', 1)::INTEGER,
        'to_bar': split_part(split_part(line, ' ', 2), '-', 2)::INTEGER
    }) END;

-- Headers that no column tells word for word; and every header of every chart, known or not.
CREATE TABLE other_headers (chart INTEGER, name VARCHAR, value VARCHAR);
CREATE VIEW headers AS
SELECT chart, name, value FROM other_headers
UNION ALL SELECT id, 'title', title FROM charts WHERE told & 1 <> 0
UNION ALL SELECT id, 'key', key FROM charts WHERE told & 2 <> 0
UNION ALL SELECT id, 'time', metre FROM charts WHERE told & 4 <> 0
UNION ALL SELECT id, 'tempo', printf('%g', tempo) FROM charts WHERE told & 8 <> 0
UNION ALL SELECT id, 'style', style FROM charts WHERE told & 16 <> 0
UNION ALL SELECT id, 'level', printf('%g', level) FROM charts WHERE told & 32 <> 0
UNION ALL SELECT id, 'year', year::VARCHAR FROM charts WHERE told & 64 <> 0
UNION ALL SELECT id, 'tags', array_to_string(tags, ', ') FROM charts WHERE told & 128 <> 0;

-- Sections as written: their bars from first_bar to last_bar.
CREATE VIEW sections AS
SELECT id AS chart, position, CASE WHEN contains(line, ' ') THEN line[strpos(line, ' ') + 1:] END AS label,
    split_part(line, '-', 1)::INTEGER AS first_bar,
    split_part(split_part(line, ' ', 1), '-', 2)::INTEGER AS last_bar
FROM (
    SELECT id, unnest(lines) AS line, generate_subscripts(lines, 1) AS position
    FROM (SELECT id, string_split(sections, chr(10)) AS lines FROM charts WHERE sections <> '')
);

-- Files that have no chart because of faults; and every file that was seen, by the hash of its content, or why it
-- could not be opened.
CREATE TABLE unread (path VARCHAR, hash VARCHAR);
CREATE VIEW files AS
SELECT path, coalesce(printf('%016x', hash), '') AS hash, id AS chart FROM charts
UNION ALL SELECT path, hash, NULL FROM unread;

-- Faults (severity 'fault') keep a chart out of the index, remarks do not. Lines and columns count from 1.
CREATE TABLE faults (
    path VARCHAR, severity VARCHAR, line INTEGER, col INTEGER, length INTEGER,
    message VARCHAR, expected VARCHAR, nearest VARCHAR, text VARCHAR
);

-- Short sequences of every tune (see corpus/grams.py), sorted by gram, then chart; and how many there are of each.
-- How best to pack what is in this order is known; DuckDB need not try all ways that there are.
CREATE TABLE grams (
    gram INTEGER USING COMPRESSION rle, chart INTEGER USING COMPRESSION bitpacking,
    times USMALLINT USING COMPRESSION bitpacking
);
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
