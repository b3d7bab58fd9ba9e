/* Between a thread that waits for a bus and the live thread: rows and events, in order, bounded. */
#pragma once
#include "cell/source.h"

/* Rubbish that is counted, and shown at most once a second however much of it comes. */
struct ew_rubbish {
  guint64 count, untold;
  double told_s; /* 0: never */
};
/* "WHAT (3 since last told)", to be told and freed; NULL: not now. */
char *ew_rubbish_count(struct ew_rubbish *rubbish, const char *what, double now_s);

struct ew_bus_queue;
struct ew_bus_queue *ew_bus_queue_new(guint channels, guint rows_most);
void ew_bus_queue_free(struct ew_bus_queue *queue);
/* Readable while something waits. */
int ew_bus_queue_fd(const struct ew_bus_queue *queue);
/* From the bus's thread. A full queue drops the row, counts it, and tells so when there is room. */
void ew_bus_queue_row(struct ew_bus_queue *queue, double time_s, double arrival_s,
                      const double *values);
void ew_bus_queue_event(struct ew_bus_queue *queue, enum ew_source_event event, const char *text);
/* From the bus's thread: rubbish is counted, and told with its count at most once a second. */
void ew_bus_queue_rubbish(struct ew_bus_queue *queue, const char *what);
/* From the live thread: everything that waits, into the sink. */
void ew_bus_queue_drain(struct ew_bus_queue *queue, const struct ew_source_sink *sink);
