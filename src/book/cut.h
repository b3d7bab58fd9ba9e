/* A pull that was cut out of a live recording.
 *
 * Its rows are stored once: where they were written while they were measured. The recording of the cut has, instead of
 * bytes, the place of its rows there, with the calibration of the sensors that made figures of them; what it is known by
 * is the digest of the file that these figures are written as. A cut whose rows are not all there as they were seen
 * (the disk accepted none for so long that some were lost) keeps that file itself and has no place.
 *
 *    stream_block:  | 0 | 1 |  2  | 3 |  4  | ...          rows of the live recording, never changed, nor thinned
 *                         skip-->[ rows of the pull ]
 *                           `block`
 */
#pragma once
#include "base/table_frames.h"
#include "book/book.h"

struct ew_cut_place {
  gint64 block, skip,
      rows; /* first block; rows of it that come before; rows. 0 rows: it keeps a file of its own */
  const char *sensors; /* YAML; NULL: the source sends figures */
};
/* The first `rows` of a stream that are in the book end before block `block`. */
struct ew_cut_anchor {
  gint64 block, rows;
};
/* The place of `rows` rows from row `from_row` (from 0) on, without its sensors. FALSE with *error when they are not all
 * before the anchor. O(blocks from there to the anchor). */
gboolean ew_cut_find(struct ew_book *book, gint64 stream_id, const struct ew_cut_anchor *anchor,
                     gint64 from_row, gint64 rows, struct ew_cut_place *place, GError **error);
/* The figures at a place; NULL with *error: they are not there. O(their blocks). Of a long one the rows are read from the book each
 * time that they are asked for, so the book must be open as long as the frames are there. */
struct ew_frames *ew_cut_frames(struct ew_book *book, gint64 stream_id,
                                const struct ew_cut_place *place, GError **error);
/* *frames of a recording that is such a cut; NULL: it keeps its bytes itself. */
gboolean ew_cut_read(struct ew_book *book, gint64 recording_id, struct ew_frames **frames,
                     GError **error);
/* What stands in the place of its bytes. Static. */
GBytes *ew_cut_line(void);

/* Inside a transaction; `place` NULL: it keeps its bytes itself. */
gboolean ew_stream_pull_add(struct ew_book *book, gint64 stream_id, gint64 cut_id, double from_s,
                            double to_s, const char *near_json, const struct ew_cut_place *place,
                            GError **error);
struct ew_stream_pull_row {
  gint64 recording_id, cut_id;
  double from_s, to_s;
  char *near_json;
};
GArray *ew_stream_pull_list(struct ew_book *book, gint64 stream_id, GError **error);
