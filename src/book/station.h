/* Where readings of the cell's own weather station may be: recordings whose channel map says that columns are the station's, and live
 * recordings that were under way. What is in them is for desk/station.h to understand. Instants are Unix seconds. */
#pragma once
#include "book/stream.h"

/* gint64: files without a pull, by a map that names the station's columns, that have rows from `from_s` to `to_s`. O(such files). */
GArray *ew_station_files(struct ew_book *book, double from_s, double to_s, GError **error);
/* gint64: live recordings that were under way then and of which no pull was cut. O(live recordings). */
GArray *ew_station_streams(struct ew_book *book, double from_s, double to_s, GError **error);

/* Rows that were stored from `from_s` to `to_s`: a call a block, with when it was stored. FALSE from `take` stops. O(blocks of the recording). */
typedef gboolean (*ew_stream_take_stored)(const double *values, gsize rows, gsize columns,
                                          double stored_s, gpointer user);
gboolean ew_stream_stored(struct ew_book *book, gint64 id, double from_s, double to_s,
                          ew_stream_take_stored take, gpointer user, GError **error);
