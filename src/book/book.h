/* The book: the shop's one file, an SQLite database in WAL mode. docs/book-schema.md describes it.
 *
 * One writer at a time, any number of readers. Each change is one transaction that also writes who,
 * when and what into change_log. Raw recordings are stored as they came and never changed. */
#pragma once
#include "base/json_writer.h"
#include "base/zone.h"
#include <glib.h>

struct ew_book; /* opaque: holds the connection */
typedef struct ew_book ew_book;

/* Open; with `create` a missing book is made (its folder too), for its owner's eyes. Refuses what isn't a book, a
 * foreign structure, a newer schema, several names of one file, and a missing book without `create`. A book that can't be
 * written (disk full, or read-only) is opened to be read; then each change to it is refused. */
struct ew_book *ew_book_open(const char *path, gboolean create, GError **error);
void ew_book_close(struct ew_book *book);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_book, ew_book_close)
gboolean ew_book_is_read_only(const struct ew_book *book);
const char *ew_book_path(const struct ew_book *book);

/* The usual place: $XDG_DATA_HOME/enginewright/shop.book */
char *ew_book_default_path(void);

/* Work that is made of many verbs (book/keep.h), kept whole or not at all; each of them is a step of it. `body` runs
 * once: it may do what can't be done twice. FALSE from it: nothing is kept. Nobody else can write meanwhile. */
typedef gboolean (*ew_one_body)(struct ew_book *book, gpointer user, GError **error);
gboolean ew_book_as_one(struct ew_book *book, ew_one_body body, gpointer user, GError **error);
const char *ew_book_who(void); /* $EW_USER, else the login name */
/* Inside a transaction. */
/* Every line of the log into an open JSON array: at, who, what, detail. */
void ew_book_write_log(struct ew_book *book, struct ew_json *json);
gboolean ew_book_log(struct ew_book *book, const char *what, const char *detail, GError **error);

/* What went wrong in reading on this thread since it was last asked, as an error to free: damage, else the first failure that
 * nobody was told of; NULL: nothing. A reader that goes on without a row, or took an error for the end, does not pass for one
 * that read the whole. A command and a request end with it. */
GError *ew_book_take_trouble(void);
void ew_book_forget_trouble(void);

/* "2026-11-25T20:15:00.123Z" */
char *ew_time_now(void);
/* The zone in the book's settings, owned by the book; refuses one that this machine does not know. */
GTimeZone *ew_book_zone(struct ew_book *book, GError **error);
/* The shop's day that an instant (or a date alone) belongs to, by the zone in the book's settings: the one way from a
 * time to a day. Refuses what is not a time, and a zone that this machine does not know. */
gboolean ew_book_day(struct ew_book *book, const char *instant, char day[EW_DAY_SIZE],
                     GError **error);
/* Does it belong to that day? FALSE, too, when either is none. */
gboolean ew_book_is_day(struct ew_book *book, const char *instant, const char *day);
double ew_time_parse(const char *text); /* Unix seconds; NaN when it is not such a time */
