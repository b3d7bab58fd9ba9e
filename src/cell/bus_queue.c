/* Rows and events between two threads, under one mutex, with an event descriptor that the live thread polls. Order
 * is kept; beyond its bound new rows are dropped, counted and reported, so that a flood costs rows and never memory.
 * O(1) a row. */
#include "cell/bus_queue.h"
#include <math.h>
#include <pthread.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

struct item {
  enum ew_source_event event;
  ew_message *what; /* NULL: a row */
  double time_s, arrival_s;
  double values[];
};

struct ew_bus_queue {
  GMutex mutex;
  GQueue items;
  guint channels, most, dropped;
  struct ew_rubbish rubbish;
  int fd;
};

EW_MESSAGE_PUBLIC(ew_rubbish_counted, "cell.rubbish", EW_CAUTION,
                  "{what} ({count} since the last report)");
EW_MESSAGE_MANY(flood, "cell.flood", EW_CAUTION,
                "data arrives faster than it can be taken: {rows} row was dropped",
                "data arrives faster than it can be taken: {rows} rows were dropped");

ew_message *ew_rubbish_count(struct ew_rubbish *r, ew_message *given, double now_s) {
  g_assert(given);
  g_autoptr(ew_message) what = given;
  r->count++;
  r->untold++;
  if (r->told_s > 0 && now_s < r->told_s + 1)
    return NULL;
  ew_message *report = ew_message(&ew_rubbish_counted, ew_say_message("what", what),
                                  ew_say_count("count", (gint64)r->untold));
  r->told_s = fmax(now_s, 1e-9);
  r->untold = 0;
  return report;
}

struct ew_bus_queue *ew_bus_queue_new(guint channels, guint most) {
  g_assert(most > 0);
  struct ew_bus_queue *q = g_new0(struct ew_bus_queue, 1);
  g_mutex_init(&q->mutex);
  g_queue_init(&q->items);
  q->channels = channels;
  q->most = most;
  q->fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
  return q;
}

static void item_free(struct item *item) {
  ew_message_free(item->what);
  g_free(item);
}

void ew_bus_queue_free(struct ew_bus_queue *q) {
  if (!q)
    return;
  g_queue_clear_full(&q->items, (GDestroyNotify)item_free);
  g_mutex_clear(&q->mutex);
  close(q->fd);
  g_free(q);
}

int ew_bus_queue_fd(const struct ew_bus_queue *q) {
  return q->fd;
}

/* A client library may cancel its thread when a session ends: not while it holds the mutex, which nobody would open again. Answers
 * what `unlock` takes. */
static int lock(struct ew_bus_queue *q) {
  int cancel;
  pthread_setcancelstate(PTHREAD_CANCEL_DISABLE, &cancel);
  g_mutex_lock(&q->mutex);
  return cancel;
}

static void unlock(struct ew_bus_queue *q, int cancel) {
  g_mutex_unlock(&q->mutex);
  pthread_setcancelstate(cancel, NULL);
}

static void push(struct ew_bus_queue *q, struct item *item) {
  guint64 one = 1;
  g_queue_push_tail(&q->items, item);
  if (write(q->fd, &one, sizeof one) < 0)
    return; /* the counter is at its most: it is readable all the same */
}

/* Takes the message. */
static struct item *event_item(enum ew_source_event event, ew_message *what) {
  g_assert(what); /* one without is a row */
  struct item *item = g_new0(struct item, 1);
  item->event = event;
  item->what = what;
  return item;
}

void ew_bus_queue_event(struct ew_bus_queue *q, enum ew_source_event event, ew_message *what) {
  int cancel = lock(q);
  push(q, event_item(event, what));
  unlock(q, cancel);
}

void ew_bus_queue_rubbish(struct ew_bus_queue *q, ew_message *what) {
  int cancel = lock(q);
  ew_message *report = ew_rubbish_count(&q->rubbish, what, ew_monotonic_s());
  if (report)
    push(q, event_item(EW_SOURCE_GARBAGE, report));
  unlock(q, cancel);
}

void ew_bus_queue_row(struct ew_bus_queue *q, double time_s, double arrival_s,
                      const double *values) {
  struct item *item = g_malloc0(sizeof(struct item) + q->channels * sizeof(double));
  item->time_s = time_s;
  item->arrival_s = arrival_s;
  memcpy(item->values, values, q->channels * sizeof(double));
  int cancel = lock(q);
  if (q->items.length >= q->most) {
    q->dropped++;
    item_free(item);
  } else
    push(q, item);
  unlock(q, cancel);
}

void ew_bus_queue_drain(struct ew_bus_queue *q, const struct ew_source_sink *sink) {
  guint64 count;
  if (read(q->fd, &count, sizeof count) < 0)
    count = 0; /* nothing new: what waits is still taken */
  int cancel = lock(q);
  GQueue items = q->items;
  g_queue_init(&q->items);
  guint dropped = q->dropped;
  q->dropped = 0;
  unlock(q, cancel);
  for (struct item *item; (item = g_queue_pop_head(&items)); item_free(item))
    if (!item->what)
      sink->frame(sink->user, item->time_s, item->arrival_s, item->values);
    else if (sink->event)
      sink->event(sink->user, item->event, item->what);
  if (dropped)
    ew_source_tell(sink, EW_SOURCE_GARBAGE, ew_message(&flood, ew_say_count("rows", dropped)));
}
