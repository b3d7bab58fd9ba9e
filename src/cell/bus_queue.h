/* Between a thread that waits for a bus and the live thread: rows and events, in order, bounded. */
#pragma once
#include "cell/source.h"

/* Bad input that is counted, and reported at most once a second however much of it comes. */
struct ew_rubbish {
  guint64 count, untold;
  double told_s; /* 0: never */
};
extern const struct ew_message_kind ew_rubbish_counted; /* {what}, {count}: since the last report */
/* Takes `what`. A report with the count since the last one; NULL: not now. The caller frees it. */
ew_message *ew_rubbish_count(struct ew_rubbish *rubbish, ew_message *what, double now_s);

struct ew_bus_queue;
struct ew_bus_queue *ew_bus_queue_new(guint channels, guint rows_most);
void ew_bus_queue_free(struct ew_bus_queue *queue);
/* Readable while something waits. */
int ew_bus_queue_fd(const struct ew_bus_queue *queue);
/* From the bus's thread. A full queue drops the row, counts it, and reports that when there is room. */
void ew_bus_queue_row(struct ew_bus_queue *queue, double time_s, double arrival_s,
                      const double *values);
/* Takes the message. */
void ew_bus_queue_event(struct ew_bus_queue *queue, enum ew_source_event event, ew_message *what);
/* From the bus's thread: counted, and reported with its count at most once a second. Takes the message. */
void ew_bus_queue_rubbish(struct ew_bus_queue *queue, ew_message *what);
/* From the live thread: everything that waits, into the sink. */
void ew_bus_queue_drain(struct ew_bus_queue *queue, const struct ew_source_sink *sink);
