/* The book as a file of this machine: what may be opened, who may read it, and that one recorder at most is at it.
 *
 * SQLite keeps a log and an index beside the file, by the file's real name. A file with two names would have two of each
 * and be damaged, so it is refused; a symbolic link leads to the one real name and is followed. The recorder's lock is on
 * the file itself (its inode), whatever the name it was opened by. */
#pragma once
#include <glib.h>

/* Is there a file that may be opened as a book? 1 yes, 0 there is none, -1 refused with *error: not a regular file,
 * several names, something else where the log and its index belong, or a book that was renamed while it is recorded. */
int ew_book_file_look(const char *path, GError **error);
/* A new, empty file; only its owner may read it, or with `shared` whoever the umask lets. */
gboolean ew_book_file_make(const char *path, gboolean shared, GError **error);
/* Removes a book that could not be made whole, with the files that are kept beside it. */
void ew_book_file_remove(const char *path);

/* One recorder a book, in this process and in others; refuses when another is at work. Held until it is released. */
struct ew_book_lock;
struct ew_book_lock *ew_book_lock_take(const char *path, GError **error);
/* Is a recorder at work on it, here or in another process? */
gboolean ew_book_lock_is_held(const char *path);
void ew_book_lock_release(struct ew_book_lock *lock); /* may be NULL */
