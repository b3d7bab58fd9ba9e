/* Is this file's structure the one that this program makes? The whole sqlite_schema is compared with that of
 * a database that the same steps build in memory. SQLite's advice for files that aren't trusted
 * (https://www.sqlite.org/security.html) goes further down the same road: see open.c. */
#include "book/sqlite/schema.h"
#include "base/language.h"
#include "base/error.h"
#include "book/sqlite/sqlite.h"
#include <string.h>

/* The shell's dumps, and ALTER TABLE, put quotes around a plain name: "attachment" is attachment. */
static char *without_quotes(const char *sql) {
  GString *plain = g_string_new(NULL);
  for (const char *c = sql; *c;) {
    gsize name = *c == '"' ? strspn(c + 1, "abcdefghijklmnopqrstuvwxyz_0123456789") : 0;
    if (name && c[name + 1] == '"') {
      g_string_append_len(plain, c + 1, (gssize)name);
      c += name + 2;
    } else
      g_string_append_c(plain, *c++);
  }
  return g_string_free(plain, FALSE);
}

/* "trigger eats" -> what it is made of; an automatic index has no text. NULL when it can't be read. */
static GHashTable *objects_of(sqlite3 *db) {
  GHashTable *objects = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  sqlite3_stmt *s = NULL;
  sqlite3_prepare_v2(db, "SELECT type, name, tbl_name, sql FROM sqlite_schema", -1, &s, NULL);
  int code = SQLITE_ERROR;
  while (s && (code = sqlite3_step(s)) == SQLITE_ROW) {
    const char *texts[4];
    for (int i = 0; i < 4; i++)
      texts[i] = (const char *)sqlite3_column_text(s, i);
    g_autofree char *plain = without_quotes(texts[3] ? texts[3] : "");
    g_hash_table_insert(objects, g_strdup_printf("%s '%s'", texts[0], texts[1]),
                        g_strdup_printf("%s: %s", texts[2], plain));
  }
  sqlite3_finalize(s);
  if (code == SQLITE_DONE)
    return objects;
  g_hash_table_unref(objects);
  return NULL;
}

static char *digest_of(GHashTable *objects) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_autoptr(GList) names = g_list_sort(g_hash_table_get_keys(objects), (GCompareFunc)strcmp);
  for (GList *one = names; one; one = one->next) {
    const char *texts[] = {one->data, g_hash_table_lookup(objects, one->data)};
    for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
      g_checksum_update(sum, (const guchar *)texts[i], (gssize)strlen(texts[i]) + 1);
  }
  return g_strdup(g_checksum_get_string(sum));
}

/* Of one version, built once: a server opens books again and again. */
static GHashTable *wanted_objects(int version) {
  static GMutex mutex;
  static GHashTable *built; /* version -> objects */
  g_mutex_lock(&mutex);
  if (!built)
    built = g_hash_table_new(NULL, NULL);
  GHashTable *objects = g_hash_table_lookup(built, GINT_TO_POINTER(version));
  sqlite3 *db = NULL;
  if (!objects && sqlite3_open(":memory:", &db) == SQLITE_OK && ew_schema_build(db, version)) {
    objects = objects_of(db);
    g_hash_table_insert(built, GINT_TO_POINTER(version), objects);
  }
  sqlite3_close(db);
  g_mutex_unlock(&mutex);
  return objects;
}

/* The first object, by name, in which they differ; NULL: none. */
static char *difference(GHashTable *wanted, GHashTable *there) {
  char *worst = NULL;
  GHashTable *sides[] = {there, wanted};
  for (int k = 0; k < 2 && !worst; k++) {
    GHashTableIter walk;
    gpointer name, text;
    g_hash_table_iter_init(&walk, sides[k]);
    while (g_hash_table_iter_next(&walk, &name, &text))
      if (g_strcmp0(text, g_hash_table_lookup(sides[!k], name)) != 0 &&
          (!worst || strcmp(name, worst) < 0))
        worst = name;
  }
  return worst;
}

/* Of what the steps of the newest version make. Building that takes some 40 ms, which each command would pay; where the digests differ
 * it is built, and what differs is named. tests/unit/book/test_book.c holds it to the steps, and names the new one after a step was added. */
const char ew_schema_digest_kept[] =
    "03281b81b5fa36080c03f76e28f7a60b9a56c4075add93bd07b32a5172da953c";

char *ew_schema_digest_made(void) {
  GHashTable *objects = wanted_objects(ew_schema_newest());
  return objects ? digest_of(objects) : NULL;
}

static gboolean is_newest(GHashTable *there, int version) {
  if (!there || version != ew_schema_newest())
    return FALSE;
  g_autofree char *digest = digest_of(there);
  return strcmp(digest, ew_schema_digest_kept) == 0;
}

static gboolean check_structure(sqlite3 *db, int version, GError **error) {
  g_autoptr(GHashTable) there = objects_of(db);
  if (is_newest(there, version))
    return TRUE;
  GHashTable *wanted = wanted_objects(version);
  if (!wanted)
    return ew_fail(error, "the schema of version %d cannot be built", version);
  if (!there)
    return ew_refuse(error,
                     "the structure of this book cannot be read (%s): restore it from a backup",
                     sqlite3_errmsg(db));
  const char *name = difference(wanted, there);
  if (!name)
    return TRUE;
  g_autofree char *shown = g_str_to_ascii(name, "C");
  g_strdelimit(shown, "\n\r\t\x1b\x7f", '?');
  return ew_refuse(
      error,
      "the structure of this book is not what this program makes (%.60s %s): it was "
      "changed by something else and is not opened; take it from a backup",
      shown,
      ew_tr(g_hash_table_contains(wanted, name)
                ? g_hash_table_contains(there, name) ? EW_TEXT("differs") : EW_TEXT("is missing")
                : EW_TEXT("is not ours")));
}

static gboolean check(sqlite3 *db, GError **error) {
  gint64 version = ew_sqlite_number(db, "PRAGMA user_version");
  gint64 mark = ew_sqlite_number(db, "PRAGMA application_id");
  gint64 objects = ew_sqlite_number(db, "SELECT count(*) FROM sqlite_schema");
  if (objects == 0 && version == 0 && (mark == 0 || mark == EW_SCHEMA_APPLICATION_ID))
    return TRUE;
  if (mark != EW_SCHEMA_APPLICATION_ID)
    return ew_refuse(error, "this database is not a book of this program: choose another file");
  if (version > ew_schema_newest())
    return ew_refuse(error,
                     "this book was written by a newer version of the program (schema "
                     "%" G_GINT64_FORMAT "; this one knows %d): update the program",
                     version, ew_schema_newest());
  if (version < 1)
    return ew_refuse(error,
                     "this book says that its schema is %" G_GINT64_FORMAT
                     ", and 1 to %d are known: it is damaged; take it from a backup",
                     version, ew_schema_newest());
  return check_structure(db, (int)version, error);
}

gboolean ew_schema_check(sqlite3 *db, GError **error) {
  /* one transaction: another program may be bringing the book up to date. Left open on an error, so that
   * what the disk said is still there to be asked. */
  if (sqlite3_exec(db, "BEGIN; SELECT count(*) FROM sqlite_schema", NULL, NULL, NULL) != SQLITE_OK)
    return sqlite3_errcode(db) == SQLITE_NOTADB
               ? ew_refuse_with(error, EW_REMEDY_OTHER_BOOK, "this file is not a book")
               : ew_sqlite_error(db, error);
  gboolean good = check(db, error);
  sqlite3_exec(db, "COMMIT", NULL, NULL, NULL);
  return good;
}
