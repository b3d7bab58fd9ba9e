/* Paired devices: who on the network may look, who may write, and who may also send to a source.
 *
 *   unknown --one-time code, shown on this machine--> paired (view, write or send) --revoke--> unknown
 *
 * A code has 8 digits from the kernel's random source, holds 10 minutes and works once. Five wrong guesses shut out the
 * address that made them, and nobody else; the code dies after 2,000 in all: a guesser's chance is 5 in 10^8 by one address
 * and 2 in 10^5 by four hundred. The device then holds a token of 256 random bits in a cookie; its SHA-256 is kept.
 *
 * Rights belong to this machine and to the identity of a book, in a file of the machine (base/machine.h), never in the
 * book: a book from elsewhere brings nobody along, and an old copy of a book brings nobody back. A change is on the disk before it
 * counts; what could not be stored is as it was. The file is read again when it changed: two servers of a book agree. Thread-safe. */
#pragma once
#include "book/book.h"
#include "serve/request.h"

/* Each may all that those before it may. */
#define EW_RIGHTS(X)                                                                               \
  X(NONE, "none")                                                                                  \
  X(VIEW, "view")                                                                                  \
  X(WRITE, "write")                                                                                \
  X(SEND, "send")
enum ew_rights {
#define X(id, word) EW_RIGHTS_##id,
  EW_RIGHTS(X)
#undef X
      EW_RIGHTS_COUNT
};
/* FALSE: no such word. */
gboolean ew_rights_find(const char *word, enum ew_rights *rights);

struct ew_devices; /* opaque */

/* Devices of the book with that identity on this machine. */
struct ew_devices *ew_devices_new(const char *book_identity);
void ew_devices_free(struct ew_devices *devices);
/* Why the machine's file gives nobody a right (others can write it, it is damaged); NULL: it is sound. The caller frees it. */
char *ew_devices_problem(struct ew_devices *devices);
/* An earlier program kept devices in the book: they are taken out of it, have no right, and are to be paired again. Their
 * names, or none. */
GPtrArray *ew_devices_leave_book(struct ew_book *book, GError **error); /* NULL with *error */

/* `id` (may be NULL): its number. */
enum ew_rights ew_devices_rights(struct ew_devices *devices, const char *token, gint64 *id);
/* A new code; an older one dies. The caller frees it. */
char *ew_devices_code(struct ew_devices *devices, enum ew_rights rights);
/* A token for a code: refused when the code is wrong, old or used. The caller frees it. */
char *ew_devices_pair(struct ew_devices *devices, guint32 address, const char *code,
                      const char *name, GError **error);
/* On failure the device is still in force, and still listed. */
gboolean ew_devices_revoke(struct ew_devices *devices, gint64 id, GError **error);
void ew_devices_write_json(struct ew_devices *devices, struct ew_json *json);
