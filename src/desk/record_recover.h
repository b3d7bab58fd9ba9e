/* After a crash: the live recording that nobody ended, and a pull in it that was not stored yet.
 *
 *   rows of the session ---- pull kept ---- rows ---- pull kept ---- rows of one or more pulls ---X the recorder was killed
 *                                                                    \____ looked at here ____/
 *
 * A pull is stored after its last row is. Killed between the two, its rows are in the book and it is in no list. It is cut out when the
 * next session begins, as it would have been, and held: what was said of the set-up for it went with the recorder, so that it has that
 * of the pull before. It is not cut twice: a cut is found from where the last one ended. */
#pragma once
#include "book/stream.h"

/* Numbers of the pulls that were found and kept, gint64, to be unreffed; none when there was none. NULL with *error: the rows could not be
 * read or the pull could not be stored; the rows stay. O(rows behind the last pull that was kept). */
GArray *ew_recover_pulls(struct ew_book *book, const struct ew_stream_row *stream, GError **error);
