/* A shop's address in the place of a book's file: what the shop holds of a cell is fetched into this user's cache and read there. And the
 * shipper beside a command that records or serves. */
#pragma once
#include <glib.h>

/* `given` itself when it is a file; the copy's path when it is an address ("postgresql://host/db#Cell 1"), brought up to date. NULL with
 * *error: the shop can't be reached, then it names the copy that was read last. */
char *ew_shop_copy_of(const char *given, GError **error);
/* Refuses an address where something is written. */
gboolean ew_shop_is_file(const char *given, GError **error);
struct ew_shipper;
/* While a command runs: sends what is written to this book; and where `given` is an address, brings what came to the shop into the copy
 * at `path`. What goes wrong is said on standard error, once each time it changes. */
struct ew_shipper *ew_ship_beside(const char *given, const char *path);
