/* What belongs to this machine and account, and never travels with a book: keys, rights of devices, what may act outside.
 *
 * One folder, $XDG_CONFIG_HOME/enginewright (~/.config/enginewright), mode 0700; each file in it has mode 0600. A file that
 * others can read or write, that another account owns, or that is a link, is refused: it proves nothing.
 *
 * Files are short (1 MB at most) and are written whole or not at all; ew_machine_write returns TRUE when the bytes are on the disk. */
#pragma once
#include <glib.h>

/* The place of a file of that name (no '/'). The caller frees it. */
char *ew_machine_path(const char *name);
/* TRUE with *text NULL when there is no such file. */
gboolean ew_machine_read(const char *name, char **text, GError **error);
gboolean ew_machine_write(const char *name, const char *text, GError **error);
/* A lock among the programs of this account, released by close(); waits. -1 with an error. */
int ew_machine_lock(const char *name, GError **error);
/* 64 hex digits that are the same as long as machine and account are (machine-id(5) and the user's number, hashed);
 * a file that names another was copied from elsewhere. The caller frees it. */
char *ew_machine_identity(void);
/* `bytes` bytes (64 at most) of the kernel's random source as hex digits. The caller frees it. */
char *ew_machine_random(gsize bytes);
