/* Paired devices: who on the network may look, and who may write.
 *
 *   unknown --one-time code, shown on this machine--> paired (view or write) --revoke--> unknown
 *
 * A code has 8 digits from the kernel's random source, holds 10 minutes and works once. Five wrong guesses shut out the
 * address that made them, and nobody else; the code dies after 2,000 in all: a guesser's chance is 5 in 10^8 by one address
 * and 2 in 10^5 by four hundred. The device then holds a token of 256 random
 * bits in a cookie; the book keeps its SHA-256 only. Thread-safe. */
#pragma once
#include "book/store.h"
#include "serve/request.h"

enum ew_rights { EW_RIGHTS_NONE, EW_RIGHTS_VIEW, EW_RIGHTS_WRITE };

struct ew_devices; /* opaque */

struct ew_devices *ew_devices_new(struct ew_book *book); /* reads what is paired */
void ew_devices_free(struct ew_devices *devices);
enum ew_rights ew_devices_rights(struct ew_devices *devices, const char *token);
/* A new code; an older one dies. The caller frees it. */
char *ew_devices_code(struct ew_devices *devices, enum ew_rights rights);
/* A token for a code: refused when the code is wrong, old or used. The caller frees it. */
char *ew_devices_pair(struct ew_devices *devices, struct ew_book *book, guint32 address,
                      const char *code, const char *name, GError **error);
gboolean ew_devices_revoke(struct ew_devices *devices, struct ew_book *book, gint64 id,
                           GError **error);
void ew_devices_write_json(struct ew_devices *devices, struct ew_json *json);
