/* Bytes of photos and files in rows of their own, with digest, name and owner. A name from outside is made plain
 * before it is kept. Nothing is deleted: taking back is a mark. */
#include "book/attachment.h"
#include "base/error.h"
#include "book/media.h"
#include "book/origin.h"
#include "book/room.h"
#include "book/sql.h"
#include "book/write.h"
#include <math.h>
#include <string.h>

#define DB ew_book_port(book)

const char *const ew_owner_words[] = {
#define X(id, word) word,
    EW_OWNERS(X)
#undef X
        NULL};

/* No folders, no control characters, no leading dots, at most 120 bytes. */
static char *plain_name(const char *name) {
  g_autofree char *valid = g_utf8_make_valid(name, -1);
  const char *last = valid;
  for (const char *c = valid; *c; c++)
    if (*c == '/' || *c == '\\')
      last = c + 1;
  last += strspn(last, ". ");
  GString *plain = g_string_new(NULL);
  for (const char *c = last; *c && plain->len < 117; c = g_utf8_next_char(c))
    if (g_unichar_isprint(g_utf8_get_char(c)))
      g_string_append_unichar(plain, g_utf8_get_char(c));
  if (!plain->len)
    g_string_append(plain, "file");
  return g_string_free(plain, FALSE);
}

/* Each place has its own share: a day, a measurement, a step. What was taken back counts for nothing. */
static gboolean has_room(struct ew_book *book, const char *belongs, gint64 owner, const char *place,
                         const char *name, gsize size, GError **error) {
  gint64 sum;
  if (!ew_sql_number(
          DB, &sum, error,
          "SELECT CAST(coalesce(sum(1.0 * bytes_count), 0) AS INTEGER) FROM attachment WHERE "
          "belongs = ? AND owner_id = ? AND place = ? AND withdrawn IS NULL",
          "tit", belongs, owner, place))
    return FALSE;
  if (sum > EW_ATTACHMENTS_BYTES - (gint64)size)
    return ew_refuse(error,
                     "%s: this %s%s%s holds %.0f MB of attachments, and 1,000 MB are the most",
                     name, belongs, *place ? " " : "", place, (double)sum / 1048576);
  return ew_room_for(ew_book_path(book), size, error);
}

static gboolean may_attach(struct ew_book *book, const struct ew_owner *o, const char *name,
                           gsize size, const char *note, const char *taken_at, GError **error) {
  if (size == 0)
    return ew_refuse(error, "%s: the file is empty", name);
  if (size > EW_ATTACHMENT_BYTES)
    return ew_refuse(error, "%s: %.1f MB, and at most 64 MB are kept: make it smaller", name,
                     (double)size / 1048576);
  if (note && strlen(note) > 1000)
    return ew_refuse(error, "note: %zu bytes, and at most 1,000 are kept", strlen(note));
  if (taken_at &&
      (isnan(ew_time_parse(taken_at)) || strlen(taken_at) > 40 || !g_str_has_suffix(taken_at, "Z")))
    return ew_refuse(
        error, "taken_at: '%.40s' is not a time in UTC such as 2026-11-25T14:05:09.120Z", taken_at);
  return has_room(book, ew_owner_words[o->kind], o->id, o->place ? o->place : "", name, size,
                  error);
}

static gint64 put(struct ew_book *book, const struct ew_owner *o, const char *name, GBytes *bytes,
                  const char *digest, const char *note, const char *taken_at, GError **error) {
  gsize size;
  const guint8 *data = g_bytes_get_data(bytes, &size);
  g_autofree char *now = ew_time_now();
  struct ew_origin origin;
  if (!ew_origin_new(book, taken_at ? taken_at : now, &origin, error))
    return 0;
  gint64 id = ew_sql_insert(
      DB, error,
      "INSERT INTO attachment (belongs, owner_id, place, name, media, bytes_count, sha256, note, "
      "at, taken_at, who, bytes, " EW_ORIGIN_COLUMNS
      ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
      "tittti"
      "tttttzo",
      ew_owner_words[o->kind], o->id, o->place ? o->place : "", name, ew_media_of(data, size),
      (gint64)size, digest, note, now, taken_at, ew_book_who(), size, &origin);
  /* the bytes are never in memory a second time */
  if (!id || !DB->class->fill(DB, "attachment", "bytes", id, data, size, error))
    return 0;
  return ew_book_log(book, "attachment", name, error) ? id : 0;
}

gint64 ew_attachment_add(struct ew_book *book, const struct ew_owner *o, const char *name,
                         GBytes *bytes, const char *note, const char *taken_at, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *plain = plain_name(name);
  if (!may_attach(book, o, plain, g_bytes_get_size(bytes), note, taken_at, error))
    return 0;
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  gint64 there;
  gboolean stands;
  if (!ew_sql_number(DB, &there, error,
                     "SELECT id FROM attachment WHERE belongs = ? AND owner_id = ? AND "
                     "place = ? AND sha256 = ?",
                     "titt", ew_owner_words[o->kind], o->id, o->place ? o->place : "", digest))
    return 0;
  if (!there)
    return put(book, o, plain, bytes, digest, note && *note ? note : NULL, taken_at, error);
  if (!ew_sql_is(DB, &stands, error,
                 "SELECT count(*) FROM attachment WHERE id = ? AND withdrawn IS NULL", "i", there))
    return 0;
  return stands || ew_attachment_withdraw(book, there, NULL, error) ? there : 0;
}

void ew_attachment_row_clear(struct ew_attachment_row *r) {
  char **texts[] = {&r->belongs, &r->place, &r->name,     &r->media, &r->sha256,
                    &r->note,    &r->at,    &r->taken_at, &r->who,   &r->withdrawn};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}

#define COLUMNS                                                                                    \
  "id, owner_id, bytes_count, belongs, place, name, media, sha256, note, at, taken_at, "           \
  "who, withdrawn"

static struct ew_attachment_row row_of(struct ew_port_rows *s) {
  return (struct ew_attachment_row){ew_sql_int(s, 0),  ew_sql_int(s, 1),   ew_sql_int(s, 2),
                                    ew_sql_text(s, 3), ew_sql_text(s, 4),  ew_sql_text(s, 5),
                                    ew_sql_text(s, 6), ew_sql_text(s, 7),  ew_sql_text(s, 8),
                                    ew_sql_text(s, 9), ew_sql_text(s, 10), ew_sql_text(s, 11),
                                    ew_sql_text(s, 12)};
}

GArray *ew_attachment_list(struct ew_book *book, const struct ew_owner *o, gboolean all,
                           GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_attachment_row));
  g_array_set_clear_func(rows, (GDestroyNotify)ew_attachment_row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT " COLUMNS " FROM attachment WHERE ((belongs = ?1 AND owner_id = ?2 AND "
      "(place = ?3 OR ?3 IS NULL)) OR ?1 IS NULL) AND (?4 = 1 OR withdrawn IS NULL) ORDER BY id",
      "titi", o ? ew_owner_words[o->kind] : NULL, o ? o->id : (gint64)0, o ? o->place : NULL,
      (gint64)(all != 0));
  while (ew_sql_next(s, error)) {
    struct ew_attachment_row row = row_of(s);
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

static gboolean unknown(gint64 id, GError **error) {
  return ew_refuse_with(error, EW_REMEDY_LIST_ATTACHED, "there is no attachment %lld in this book",
                        (long long)id);
}

gboolean ew_attachment_get(struct ew_book *book, gint64 id, struct ew_attachment_row *row,
                           GError **error) {
  *row = (struct ew_attachment_row){0};
  g_autoptr(GError) problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem, "SELECT " COLUMNS " FROM attachment WHERE id = ?", "i", id);
  gboolean found = ew_sql_next(s, &problem);
  if (found)
    *row = row_of(s);
  ew_sql_done(s);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  return found || unknown(id, error);
}

GBytes *ew_attachment_bytes(struct ew_book *book, gint64 id, GError **error) {
  g_autoptr(GError) problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem, "SELECT sha256, bytes FROM attachment WHERE id = ?", "i", id);
  GBytes *bytes = NULL;
  if (ew_sql_next(s, &problem)) {
    bytes = ew_sql_blob(s, 1);
    g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    if (strcmp(digest, ew_sql_peek(s, 0)) != 0) {
      ew_fail(&problem,
              "attachment %" G_GINT64_FORMAT
              " no longer matches its digest: restore it from a backup",
              id);
      g_clear_pointer(&bytes, g_bytes_unref);
    }
  } else if (!problem)
    unknown(id, &problem);
  ew_sql_done(s);
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  return bytes;
}

gboolean ew_attachment_withdraw(struct ew_book *book, gint64 id, const char *why, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *detail =
      g_strdup_printf("attachment %" G_GINT64_FORMAT ": %s", id, why ? why : "stands again");
  struct ew_attachment_row row;
  if (!ew_attachment_get(book, id, &row, error))
    return FALSE;
  gboolean room =
      why || !row.withdrawn ||
      has_room(book, row.belongs, row.owner_id, row.place, row.name, (gsize)row.bytes, error);
  ew_attachment_row_clear(&row);
  return room &&
         ew_sql_run(DB, error, "UPDATE attachment SET withdrawn = ? WHERE id = ?", "ti", why, id) &&
         ew_book_log(book, why ? "take back an attachment" : "put back an attachment", detail,
                     error);
}

void ew_attachment_row_json(const void *row, struct ew_json *json) {
  const struct ew_attachment_row *r = row;
  ew_json_integer(json, "id", r->id);
  ew_json_text(json, "belongs", r->belongs);
  ew_json_integer(json, "owner_id", r->owner_id);
  ew_json_text(json, "place", r->place);
  ew_json_text(json, "name", r->name);
  ew_json_text(json, "media", r->media);
  ew_json_boolean(json, "picture", ew_media_is_picture(r->media));
  ew_json_integer(json, "bytes", r->bytes);
  ew_json_text(json, "sha256", r->sha256);
  ew_json_text(json, "note", r->note);
  ew_json_text(json, "at", r->at);
  ew_json_text(json, "taken_at", r->taken_at);
  ew_json_text(json, "who", r->who);
  ew_json_text(json, "taken_back", r->withdrawn);
}
