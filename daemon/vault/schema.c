#include "schema.h"

/*
 * Layout. Two stores and one fold:
 *
 *   program, piece   every program ever seen, by SHA-256, its bytes in numbered pieces. A row of
 * program without a SHA-256 is a stage that is still being filled, or was left behind by a kill.
 *   event            the trail: append only. Small columns stand first, so that lists do not touch
 * long texts.
 *   trail            seq and hash of the last event. slot, pair, release, acceptance, withdrawal,
 *   orders, machine, stick, seal_key   the state: written by fold.c alone, from events alone.
 *   node             the complete subtrees of the tree over the events, by their last one (node.h).
 *   checkpoint       signed checkpoints, in their order: no fold of anything, append only.
 *   copied           up to which of them each second place has them.
 *
 * The triggers stop honest mistakes with a database tool; who removes them on purpose is found by
 * verify.c. Partial indexes leave out the many entries without a job or machine.
 */
#define STRING " TEXT NOT NULL"
#define NUMBER " INTEGER NOT NULL"
#define BYTES " BLOB NOT NULL"

#define STORE                                                                                      \
	"CREATE TABLE program(id INTEGER PRIMARY KEY, sha BLOB UNIQUE CHECK(length(sha)=32),"      \
	" size INTEGER) STRICT;"                                                                   \
	"CREATE TABLE piece(program INTEGER NOT NULL REFERENCES program(id), n" NUMBER ", bytes" BYTES\
	", PRIMARY KEY(program,n)) STRICT;"                                                        \
	"CREATE TABLE event(seq INTEGER PRIMARY KEY, utc_us" NUMBER ", ord" NUMBER ", kind" STRING \
	", who" STRING ", origin" STRING ", machine" STRING ", job" STRING ", revision" STRING     \
	", outcome" STRING ", hash BLOB NOT NULL CHECK(length(hash)=32), parts" BYTES ", text" STRING\
	", detail" STRING ") STRICT;"                                                              \
	"CREATE INDEX event_job ON event(job) WHERE job<>'';"                                      \
	"CREATE INDEX event_machine ON event(machine) WHERE machine<>'';"                          \
	"CREATE TRIGGER event_follows BEFORE INSERT ON event"                                      \
	" WHEN NEW.seq IS NOT (SELECT seq+1 FROM trail)"                                           \
	" BEGIN SELECT RAISE(ABORT,'an entry must follow the last one'); END;"                     \
	"CREATE TRIGGER event_stays BEFORE UPDATE ON event"                                        \
	" BEGIN SELECT RAISE(ABORT,'an entry is never changed'); END;"                             \
	"CREATE TRIGGER event_remains BEFORE DELETE ON event"                                      \
	" BEGIN SELECT RAISE(ABORT,'an entry is never removed'); END;"                             \
	"CREATE TRIGGER program_stays BEFORE UPDATE ON program WHEN OLD.sha IS NOT NULL"           \
	" BEGIN SELECT RAISE(ABORT,'a program is never changed'); END;"                            \
	"CREATE TRIGGER program_remains BEFORE DELETE ON program WHEN OLD.sha IS NOT NULL"         \
	" BEGIN SELECT RAISE(ABORT,'a program is never removed'); END;"                            \
	"CREATE TRIGGER piece_stays BEFORE UPDATE ON piece"                                        \
	" BEGIN SELECT RAISE(ABORT,'a program is never changed'); END;"                            \
	"CREATE TRIGGER piece_remains BEFORE DELETE ON piece"                                      \
	" WHEN (SELECT sha FROM program WHERE id=OLD.program) IS NOT NULL"                         \
	" BEGIN SELECT RAISE(ABORT,'a program is never removed'); END;"

#define MORE                                                                                       \
	"CREATE TABLE IF NOT EXISTS checkpoint(n INTEGER PRIMARY KEY, size" NUMBER ", note" STRING \
	") STRICT;"                                                                                \
	"CREATE TABLE IF NOT EXISTS copied(place" STRING ", n" NUMBER                              \
	", PRIMARY KEY(place)) STRICT, WITHOUT ROWID;"                                             \
	"CREATE TRIGGER IF NOT EXISTS checkpoint_follows BEFORE INSERT ON checkpoint"              \
	" WHEN NEW.n IS NOT (SELECT coalesce(max(n),0)+1 FROM checkpoint)"                         \
	" OR NEW.size<=(SELECT coalesce(max(size),0) FROM checkpoint)"                             \
	" BEGIN SELECT RAISE(ABORT,'a checkpoint must follow the last one'); END;"                 \
	"CREATE TRIGGER IF NOT EXISTS checkpoint_stays BEFORE UPDATE ON checkpoint"                \
	" BEGIN SELECT RAISE(ABORT,'a checkpoint is never changed'); END;"                         \
	"CREATE TRIGGER IF NOT EXISTS checkpoint_remains BEFORE DELETE ON checkpoint"              \
	" BEGIN SELECT RAISE(ABORT,'a checkpoint is never removed'); END;"

/* The fold: empty, before the first event. */
#define STATE                                                                                      \
	"CREATE TABLE trail(id INTEGER PRIMARY KEY CHECK(id=1), seq" NUMBER                        \
	", head BLOB NOT NULL CHECK(length(head)=32)) STRICT;"                                     \
	"INSERT INTO trail VALUES(1,0,zeroblob(32));"                                              \
	"CREATE TABLE slot(area" STRING ", job" STRING ", revision" STRING ", channel" STRING      \
	", path" STRING ", who" STRING ", sha" BYTES ", seq" NUMBER ", number" NUMBER              \
	", PRIMARY KEY(area,job,revision,channel)) STRICT, WITHOUT ROWID;"                         \
	"CREATE INDEX slot_number ON slot(area,channel,number) WHERE number<>0;"                   \
	"CREATE TABLE path(path" STRING ", sha" BYTES ", seq" NUMBER                               \
	", PRIMARY KEY(path)) STRICT, WITHOUT ROWID;"                                              \
	"CREATE TABLE pair(area" STRING ", job" STRING ", revision" STRING ", state" NUMBER        \
	", verdict" STRING ", parts" BYTES ", seq" NUMBER ", utc_us" NUMBER ", who" STRING         \
	", text" STRING ", PRIMARY KEY(area,job,revision)) STRICT, WITHOUT ROWID;"                 \
	"CREATE TABLE release(area" STRING ", job" STRING ", revision" STRING ", parts" BYTES      \
	", verdict" STRING ", seq" NUMBER ", utc_us" NUMBER ", who" STRING                         \
	", PRIMARY KEY(area,job,revision,parts)) STRICT, WITHOUT ROWID;"                           \
	"CREATE TABLE acceptance(area" STRING ", job" STRING ", revision" STRING ", parts" BYTES   \
	", rule" STRING ", seq" NUMBER ", utc_us" NUMBER ", who" STRING ", text" STRING            \
	", PRIMARY KEY(area,job,revision,parts,rule)) STRICT, WITHOUT ROWID;"                      \
	"CREATE TABLE withdrawal(area" STRING ", job" STRING ", revision" STRING ", parts" BYTES   \
	", seq" NUMBER ", utc_us" NUMBER ", who" STRING ", text" STRING                            \
	", PRIMARY KEY(area,job,revision)) STRICT, WITHOUT ROWID;"                                 \
	"CREATE TABLE orders(id INTEGER PRIMARY KEY, state" NUMBER ", act" STRING ", machine" STRING\
	", job" STRING ", revision" STRING ", parts" BYTES ", who" STRING ", step" STRING ", seq" NUMBER\
	", utc_us" NUMBER ", text" STRING ", rank" NUMBER ") STRICT;"                              \
	"CREATE INDEX orders_open ON orders(machine) WHERE state<2;"                               \
	"CREATE INDEX orders_machine ON orders(machine);"                                          \
	"CREATE TABLE machine(name" STRING ", content" NUMBER ", job" STRING ", revision" STRING   \
	", parts" BYTES ", read_back" NUMBER ", proven" NUMBER ", drift" NUMBER ", locked" NUMBER  \
	", offline" NUMBER ", abandoned" NUMBER ", ord" NUMBER ", since_us" NUMBER ", asked_by" STRING\
	", lock_text" STRING ", text" STRING ", has_good" NUMBER ", good_job" STRING               \
	", good_revision" STRING ", good" BYTES ", good_us" NUMBER ", good_by" STRING ", unsure" NUMBER\
	", unsure_before" NUMBER ", told" BYTES ", unsure_us" NUMBER ", unsure_by" STRING          \
	", PRIMARY KEY(name)) STRICT, WITHOUT ROWID;"                                              \
	"CREATE TABLE stick(machine" STRING ", state" NUMBER ", job" STRING ", revision" STRING    \
	", parts" BYTES ", utc_us" NUMBER ", who" STRING                                           \
	", PRIMARY KEY(machine)) STRICT, WITHOUT ROWID;"                                           \
	"CREATE TABLE seal_key(seq INTEGER PRIMARY KEY, key" STRING ", utc_us" NUMBER ") STRICT;"  \
	"CREATE TABLE node(seq INTEGER PRIMARY KEY, hashes" BYTES ") STRICT;"

#define MARKS "PRAGMA application_id=1500474213; PRAGMA user_version=8;"

const char schema_sql[] = STORE MORE STATE MARKS;
const char schema_more_sql[] = MORE;
const char schema_state_sql[] = STATE MARKS;

_Static_assert(SCHEMA_APPLICATION == 1500474213 && SCHEMA_VERSION == 8, "the marks in schema_sql");

const struct schema_table schema_state[] = {
    {"slot", "SELECT * FROM slot ORDER BY area,job,revision,channel", 4},
    {"path", "SELECT * FROM path ORDER BY path", 1},
    {"pair", "SELECT * FROM pair ORDER BY area,job,revision", 3},
    {"release", "SELECT * FROM release ORDER BY area,job,revision,parts", 3},
    {"acceptance", "SELECT * FROM acceptance ORDER BY area,job,revision,parts,rule", 5},
    {"withdrawal", "SELECT * FROM withdrawal ORDER BY area,job,revision", 3},
    {"orders", "SELECT * FROM orders ORDER BY id", 1},
    {"machine", "SELECT * FROM machine ORDER BY name", 1},
    {"stick", "SELECT * FROM stick ORDER BY machine", 1},
    {"seal_key", "SELECT * FROM seal_key ORDER BY seq", 1},
    {"trail", "SELECT * FROM trail ORDER BY id", 1},
    {0},
};

#define LAYOUT                                                                                     \
	"SELECT type,name,sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'"

const struct schema_table schema_tables = {
    "layout", LAYOUT " AND type IN ('table','view') ORDER BY type,name", 2};
const struct schema_table schema_guards = {
    "layout", LAYOUT " AND type NOT IN ('table','view') ORDER BY type,name", 2};
