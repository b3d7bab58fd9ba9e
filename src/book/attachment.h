/* Photos and files in the book: their bytes, as they came, with their digest and whom they belong to.
 * One that was taken back keeps its row and its bytes, and can be put back. */
#pragma once
#include "book/book.h"

/* Whom a file belongs to, in the words of the command line and of the interface. */
#define EW_OWNERS(X)                                                                               \
  X(ENGINE, "engine")                                                                              \
  X(BUILD, "build")                                                                                \
  X(PULL, "pull")                                                                                  \
  X(DAY, "day")
enum ew_owner_kind {
#define X(id, word) EW_OWNER_##id,
  EW_OWNERS(X)
#undef X
      EW_OWNERS_COUNT
};
extern const char *const ew_owner_words[]; /* NULL-terminated */

struct ew_owner {
  enum ew_owner_kind kind;
  gint64 id;         /* of the engine, build or pull; 0 for a day */
  const char *place; /* a measurement or step of a build, the date of a day; NULL: the whole */
};

#define EW_ATTACHMENT_BYTES ((gsize)64 << 20) /* of one file */
#define EW_ATTACHMENTS_BYTES                                                                       \
  ((gint64)1000 << 20) /* of one place of an owner; SQLite and backups stay quick */
struct ew_attachment_row {
  gint64 id, owner_id, bytes;
  char *belongs, *place, *name, *media, *sha256, *note, *at, *taken_at, *who, *withdrawn;
};

/* Keep a file's bytes. Of its name the last part counts, without control characters. `taken_at` (ISO 8601 in
 * UTC): when the device that sends it took it, by that device's clock; NULL: not told. The same bytes for
 * the same owner give the first id, and put it back when it had been taken back. 0 with *error. */
gint64 ew_attachment_add(struct ew_book *book, const struct ew_owner *owner, const char *name,
                         GBytes *bytes, const char *note, const char *taken_at, GError **error);
/* Those of an owner (NULL: of all) that stand, and with `all` those taken back too. Without a place
 * those of every place. The array clears its rows. */
GArray *ew_attachment_list(struct ew_book *book, const struct ew_owner *owner, gboolean all,
                           GError **error);
/* One row, without its bytes. Refuses an unknown id. */
gboolean ew_attachment_get(struct ew_book *book, gint64 id, struct ew_attachment_row *row,
                           GError **error);
/* The bytes, checked against their digest. NULL with *error. */
GBytes *ew_attachment_bytes(struct ew_book *book, gint64 id, GError **error);
/* Take back with a reason; with NULL put back. Inside a transaction. */
gboolean ew_attachment_withdraw(struct ew_book *book, gint64 id, const char *why, GError **error);
void ew_attachment_row_clear(struct ew_attachment_row *row);
/* Members of one row: an ew_json_row. docs/api/attachments.json describes them. */
void ew_attachment_row_json(const void *row, struct ew_json *json);
