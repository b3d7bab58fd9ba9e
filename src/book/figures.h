/* Which recording is which, by its figures (pull/figures.h): the same file saved again is known again. */
#pragma once
#include "book/book.h"

/* As written down when it was added; *digest NULL: by an earlier program, which did not. */
gboolean ew_figures_stored(struct ew_book *book, gint64 recording_id, char **digest,
                           GError **error);
/* The same, read from its bytes where it is not written down; NULL: a live recording, or no table. */
gboolean ew_figures_of(struct ew_book *book, gint64 recording_id, char **digest, GError **error);
gboolean ew_figures_put(struct ew_book *book, gint64 recording_id, const char *digest,
                        GError **error);
/* The recording of these figures that gave pulls; *id 0: none. Those of an earlier program that have as many rows and
 * channels are read and written down first, once: inside a transaction. */
gboolean ew_figures_find(struct ew_book *book, const char *digest, gint64 rows, gint64 channels,
                         gint64 *id, GError **error);
