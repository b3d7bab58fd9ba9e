/* Steps of the shop's schema, never changed once released; docs/shop-schema.md describes them.
 *
 * A cell writes to no table: it calls functions that run with the owner's rights and look at who called. So what a cell can do is
 * what they do: name itself, ask what is there of a writer, add to one of its own. It reads the facts of its own writers (row-level
 * security), an office those of all. Triggers refuse changes of what was added, to the owner as well. */
#include "shop/postgresql/schema.h"
#include <glib.h>

/* clang-format off */
const char *const ew_shop_steps[] = {
    /* 1 */
    "CREATE TABLE book (identity text PRIMARY KEY, name text NOT NULL UNIQUE, login text NOT NULL, at timestamptz NOT NULL DEFAULT now());"
    "CREATE TABLE writer (uid text PRIMARY KEY, book text NOT NULL REFERENCES book, parent text REFERENCES writer,"
    " first_seq bigint NOT NULL, login text NOT NULL, at timestamptz NOT NULL DEFAULT now());"
    "CREATE INDEX writer_book ON writer(book);"
    "CREATE TABLE fact (writer text NOT NULL REFERENCES writer, seq bigint NOT NULL, mark bigint NOT NULL, what text NOT NULL,"
    " number bigint, key text, uid text, body json NOT NULL, digest text NOT NULL, parts text[] NOT NULL,"
    " at timestamptz NOT NULL DEFAULT now(), PRIMARY KEY (writer, seq));"
    "CREATE TABLE thing (uid text PRIMARY KEY, what text NOT NULL, lasting text NOT NULL, writer text NOT NULL, seq bigint NOT NULL);"
    "CREATE TABLE part (sha256 text PRIMARY KEY, size bigint NOT NULL, coding text NOT NULL, bytes bytea NOT NULL);"
    "ALTER TABLE part ALTER COLUMN bytes SET STORAGE EXTERNAL;" /* compressed before it came */
    "CREATE TABLE shipping (writer text NOT NULL REFERENCES writer, at timestamptz NOT NULL DEFAULT now(), seq bigint NOT NULL,"
    " ahead_s double precision, doubt_s double precision);"
    "CREATE INDEX shipping_writer ON shipping(writer, at);"

    "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
    " RAISE EXCEPTION 'what was sent to the shop is not changed' USING ERRCODE = 'EW003'; END $$;"
    "CREATE TRIGGER kept BEFORE UPDATE OR DELETE OR TRUNCATE ON fact FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();"
    "CREATE TRIGGER kept BEFORE UPDATE OR DELETE OR TRUNCATE ON thing FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();"
    "CREATE TRIGGER kept BEFORE UPDATE OR DELETE OR TRUNCATE ON part FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();"

    "CREATE FUNCTION own(of text) RETURNS void LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE whose text; BEGIN SELECT login INTO whose FROM writer WHERE uid = of;"
    " IF whose IS DISTINCT FROM session_user THEN"
    " RAISE EXCEPTION 'writer % is of the login %', of, coalesce(whose, 'nobody') USING ERRCODE = 'EW002'; END IF; END $$;"

    "CREATE FUNCTION join_book(of text, called text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE there text; BEGIN INSERT INTO book (identity, name, login) VALUES (of, called, session_user) ON CONFLICT DO NOTHING;"
    " SELECT name INTO there FROM book WHERE identity = of;"
    " IF there IS DISTINCT FROM called THEN"
    " RAISE EXCEPTION '%', coalesce(there, '') USING ERRCODE = 'EW004'; END IF; END $$;"

    "CREATE FUNCTION writer_line(of text, w text, after text, begins bigint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE there writer; BEGIN"
    " INSERT INTO writer (uid, book, parent, first_seq, login) VALUES (w, of, after, begins, session_user) ON CONFLICT DO NOTHING;"
    " SELECT * INTO there FROM writer WHERE uid = w;"
    " IF there.book <> of OR there.parent IS DISTINCT FROM after OR there.first_seq <> begins THEN"
    " RAISE EXCEPTION 'writer % stands elsewhere', w USING ERRCODE = 'EW001'; END IF; END $$;"

    "CREATE FUNCTION reached(w text) RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT coalesce(max(seq), 0) FROM fact WHERE writer = w $$;"
    "CREATE FUNCTION mark_at(w text, n bigint) RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT coalesce((SELECT mark FROM fact WHERE writer = w AND seq = n), 0) $$;"

    "CREATE FUNCTION put_part(digest text, whole bigint, coded text, data bytea) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ INSERT INTO part VALUES (digest, whole, coded, data) ON CONFLICT DO NOTHING $$;"
    "CREATE FUNCTION has_part(digest text) RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT count(*) FROM part WHERE sha256 = digest $$;"

    "CREATE FUNCTION put_fact(w text, n bigint, m bigint, of text, num bigint, k text, named text, always text, text_ json, d text, p text[])"
    " RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE was text; BEGIN PERFORM own(w);"
    " SELECT digest INTO was FROM fact WHERE writer = w AND seq = n;"
    " IF was = d THEN RETURN; END IF;"
    " IF was IS NOT NULL THEN RAISE EXCEPTION 'change % of writer %', n, w USING ERRCODE = 'EW001'; END IF;"
    " IF named IS NOT NULL THEN"
    " INSERT INTO thing VALUES (named, of, always, w, n) ON CONFLICT DO NOTHING;"
    " SELECT lasting INTO was FROM thing WHERE uid = named;"
    " IF was <> always THEN RAISE EXCEPTION '% %', of, named USING ERRCODE = 'EW001'; END IF; END IF;"
    " INSERT INTO fact (writer, seq, mark, what, number, key, uid, body, digest, parts) VALUES (w, n, m, of, num, k, named, text_, d, p); END $$;"

    "CREATE FUNCTION note_shipping(w text, n bigint, ahead double precision, doubt double precision) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " BEGIN PERFORM own(w); INSERT INTO shipping (writer, seq, ahead_s, doubt_s) VALUES (w, n, ahead, doubt); END $$;"

    /* Books as they stand: writers that no other follows, or that went on beside the one that does. */
    "CREATE VIEW head WITH (security_invoker = true) AS SELECT b.name, b.identity, w.uid AS writer, w.login, (SELECT count(*) FROM fact f WHERE f.writer = w.uid) AS facts,"
    " (SELECT max(seq) FROM fact f WHERE f.writer = w.uid) AS last,"
    " (SELECT max(at) FROM fact f WHERE f.writer = w.uid) AS came_at,"
    " (SELECT ahead_s FROM shipping s WHERE s.writer = w.uid ORDER BY at DESC LIMIT 1) AS ahead_s"
    " FROM writer w JOIN book b ON b.identity = w.book WHERE"
    " (SELECT coalesce(max(seq), 0) FROM fact f WHERE f.writer = w.uid) >="
    " (SELECT coalesce(min(n.first_seq), 0) FROM writer n WHERE n.parent = w.uid);"
    /* The facts of a chain: of each writer those before the next one's first. */
    "CREATE FUNCTION chain(last_writer text) RETURNS TABLE (writer text, from_seq bigint, to_seq bigint) LANGUAGE sql STABLE AS $$"
    " WITH RECURSIVE up AS (SELECT uid, parent, first_seq, 9223372036854775807 AS upto FROM enginewright.writer WHERE uid = last_writer"
    " UNION ALL SELECT w.uid, w.parent, w.first_seq, up.first_seq - 1 FROM enginewright.writer w JOIN up ON w.uid = up.parent)"
    " SELECT uid, first_seq, upto FROM up ORDER BY first_seq $$;"

    "REVOKE EXECUTE ON ALL FUNCTIONS IN SCHEMA enginewright FROM PUBLIC;"
    "CREATE FUNCTION part_of(digest text, OUT size text, OUT coding text, OUT bytes bytea) LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT p.size::text, p.coding, p.bytes FROM part p WHERE p.sha256 = digest $$;"
    "REVOKE EXECUTE ON FUNCTION part_of FROM PUBLIC;"
    "ALTER TABLE book ENABLE ROW LEVEL SECURITY;"
    "ALTER TABLE writer ENABLE ROW LEVEL SECURITY;"
    "ALTER TABLE fact ENABLE ROW LEVEL SECURITY;"
    "ALTER TABLE shipping ENABLE ROW LEVEL SECURITY;"
    "CREATE POLICY office ON book FOR SELECT TO enginewright_office USING (true);"
    "CREATE POLICY office ON writer FOR SELECT TO enginewright_office USING (true);"
    "CREATE POLICY office ON fact FOR SELECT TO enginewright_office USING (true);"
    "CREATE POLICY office ON shipping FOR SELECT TO enginewright_office USING (true);"
    "CREATE POLICY cell ON book FOR SELECT TO enginewright_cell USING (login = session_user);"
    "CREATE POLICY cell ON writer FOR SELECT TO enginewright_cell USING (login = session_user);"
    "CREATE POLICY cell ON fact FOR SELECT TO enginewright_cell USING (writer IN (SELECT uid FROM enginewright.writer WHERE login = session_user));"
    "CREATE POLICY cell ON shipping FOR SELECT TO enginewright_cell USING (writer IN (SELECT uid FROM enginewright.writer WHERE login = session_user));"
    "GRANT USAGE ON SCHEMA enginewright TO enginewright_cell, enginewright_office;"
    "GRANT SELECT ON step, book, writer, fact, shipping, head TO enginewright_cell, enginewright_office;"
    "GRANT EXECUTE ON FUNCTION chain, part_of TO enginewright_cell, enginewright_office;"
    "GRANT EXECUTE ON FUNCTION join_book, writer_line, reached, mark_at, put_part, has_part, put_fact, note_shipping TO enginewright_cell;",
    /* 2: a book is its login's, as a writer is: no other login goes on from it, or asks how far it is. Bytes are kept for each login that
     * sent them: the store can't look into what is compressed, so bytes under a digest are believed from whoever sent them alone ('': of before). */
    "CREATE FUNCTION own_book(of text) RETURNS void LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE whose text; BEGIN SELECT login INTO whose FROM book WHERE identity = of;"
    " IF whose IS DISTINCT FROM session_user THEN"
    " RAISE EXCEPTION 'book % is of the login %', of, coalesce(whose, 'nobody') USING ERRCODE = 'EW002'; END IF; END $$;"

    "CREATE OR REPLACE FUNCTION join_book(of text, called text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE there text; BEGIN INSERT INTO book (identity, name, login) VALUES (of, called, session_user) ON CONFLICT DO NOTHING;"
    " SELECT name INTO there FROM book WHERE identity = of;"
    " IF there IS DISTINCT FROM called THEN"
    " RAISE EXCEPTION '%', coalesce(there, '') USING ERRCODE = 'EW004'; END IF; PERFORM own_book(of); END $$;"

    "CREATE OR REPLACE FUNCTION writer_line(of text, w text, after text, begins bigint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = enginewright, pg_temp AS $$"
    " DECLARE there writer; BEGIN PERFORM own_book(of);"
    " IF after IS NOT NULL AND NOT EXISTS (SELECT 1 FROM writer WHERE uid = after AND book = of) THEN"
    " RAISE EXCEPTION 'writer % stands elsewhere', after USING ERRCODE = 'EW001'; END IF;"
    " INSERT INTO writer (uid, book, parent, first_seq, login) VALUES (w, of, after, begins, session_user) ON CONFLICT DO NOTHING;"
    " SELECT * INTO there FROM writer WHERE uid = w;"
    " IF there.book <> of OR there.parent IS DISTINCT FROM after OR there.first_seq <> begins THEN"
    " RAISE EXCEPTION 'writer % stands elsewhere', w USING ERRCODE = 'EW001'; END IF; END $$;"

    "CREATE OR REPLACE FUNCTION reached(w text) RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT coalesce(max(seq), 0) FROM fact WHERE writer = (SELECT uid FROM writer WHERE uid = w AND login = session_user) $$;"
    "CREATE OR REPLACE FUNCTION mark_at(w text, n bigint) RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT coalesce((SELECT mark FROM fact WHERE writer = (SELECT uid FROM writer WHERE uid = w AND login = session_user) AND seq = n), 0) $$;"

    "ALTER TABLE part ADD COLUMN login text NOT NULL DEFAULT '';"
    "ALTER TABLE part DROP CONSTRAINT part_pkey;"
    "ALTER TABLE part ADD PRIMARY KEY (sha256, login);"
    "CREATE OR REPLACE FUNCTION put_part(digest text, whole bigint, coded text, data bytea) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ INSERT INTO part (sha256, size, coding, bytes, login) VALUES (digest, whole, coded, data, session_user) ON CONFLICT DO NOTHING $$;"
    "CREATE OR REPLACE FUNCTION has_part(digest text) RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT count(*) FROM part WHERE sha256 = digest AND login = session_user $$;"
    "DROP FUNCTION part_of(text);"
    /* of a fact of this writer: to its own login, and to who may read all */
    "CREATE FUNCTION part_of(digest text, w text, OUT size text, OUT coding text, OUT bytes bytea) LANGUAGE sql STABLE SECURITY DEFINER SET search_path = enginewright, pg_temp AS"
    " $$ SELECT p.size::text, p.coding, p.bytes FROM writer v JOIN part p ON p.login IN (v.login, '') WHERE v.uid = w AND p.sha256 = digest"
    " AND (v.login = session_user OR pg_has_role(session_user, 'enginewright_office', 'MEMBER') OR pg_has_role(session_user, current_user, 'MEMBER'))"
    " ORDER BY p.login DESC LIMIT 1 $$;"
    "REVOKE EXECUTE ON FUNCTION own_book, part_of FROM PUBLIC;"
    "GRANT EXECUTE ON FUNCTION part_of TO enginewright_cell, enginewright_office;",
};
/* clang-format on */

int ew_shop_newest(void) {
  return (int)G_N_ELEMENTS(ew_shop_steps);
}
