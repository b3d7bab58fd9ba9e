/* CAN frames of Linux SocketCAN, over any file descriptor that delivers struct can_frame.
 *
 * A row is made whenever a frame with the id of the map's first signal comes, or, when that one is
 * absent, of the first that is not. Each signal keeps its last figure until its time-out
 * (cell/freshness) and is NaN after it; a frame too short for it makes it NaN at once. */
#include "cell/source_can.h"
#include "base/error.h"
#include "cell/bus_queue.h"
#include "cell/freshness.h"
#include "cell/source_kinds.h"
#include <errno.h>
#include <fcntl.h>
#include <linux/can.h>
#include <linux/can/raw.h>
#include <math.h>
#include <net/if.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define AT_ONCE 4096

struct can_source {
  struct ew_source base;
  struct ew_bus_map *map;
  double *values, *row;
  struct ew_freshness *fresh; /* one a signal */
  double begun_s;             /* the first frame; NaN: none yet. Then all are waited for a while */
  gboolean headed, broken;
  struct ew_rubbish rubbish;
};

static void can_close(struct ew_source *base) {
  struct can_source *s = (struct can_source *)base;
  if (base->fd >= 0)
    close(base->fd);
  ew_bus_map_free(s->map);
  g_free(s->values);
  g_free(s->fresh);
  g_free(s->row);
  g_free(s);
}

EW_MESSAGE(too_short, "cell.can-frame-too-short", EW_CAUTION,
           "a frame too short for the signals it should carry");
EW_MESSAGE(bus_errors, "cell.can-bus-errors", EW_CAUTION, "the bus reports errors");
EW_MESSAGE(too_long, "cell.can-frame-too-long", EW_CAUTION,
           "a frame that claims more than 8 bytes");
EW_MESSAGE(wrong_size, "cell.can-frame-wrong-size", EW_CAUTION, "a frame of the wrong size");
EW_MESSAGE(closed, "cell.can-closed", EW_NOTE, "the bus was closed");

static void rubbish(struct can_source *s, const struct ew_source_sink *sink,
                    const struct ew_message_kind *what, double now_s) {
  ew_message *report = ew_rubbish_count(&s->rubbish, ew_message_plain(what), now_s);
  if (report)
    ew_source_tell(sink, EW_SOURCE_GARBAGE, report);
}

static const struct ew_bus_row *signal_at(const struct can_source *s, guint i) {
  g_assert(i < s->map->rows->len);
  return &g_array_index(s->map->rows, struct ew_bus_row, i);
}

/* TRUE when this frame sets the pace: rows are made at the first signal that is there. */
static gboolean take_signals(struct can_source *s, guint32 id, gboolean extended,
                             const struct can_frame *frame, const struct ew_source_sink *sink,
                             double now_s) {
  gboolean paced = FALSE, before = FALSE, cut = FALSE;
  if (isnan(s->begun_s))
    s->begun_s = now_s;
  for (guint i = 0; i < s->map->rows->len; i++) {
    const struct ew_bus_row *row = signal_at(s, i);
    if (ew_bus_signal_value(row, id, extended, frame->data, frame->len, &s->values[i]))
      ew_freshness_heard(&s->fresh[i], now_s);
    else if (ew_bus_signal_due(row, id, extended, frame->data, frame->len)) {
      ew_freshness_lost(&s->fresh[i]);
      cut = TRUE;
    }
    gboolean here = id == (guint32)row->id && extended == row->extended;
    paced |= here && (i == 0 || !before);
    before |= ew_freshness_live(&s->fresh[i], now_s) || now_s <= s->begun_s + EW_FRESH_FLOOR_S;
  }
  if (cut)
    rubbish(s, sink, &too_short, now_s);
  return paced;
}

static void take(struct can_source *s, const struct can_frame *frame,
                 const struct ew_source_sink *sink, double now_s) {
  gboolean extended = (frame->can_id & CAN_EFF_FLAG) != 0;
  guint32 id = frame->can_id & (extended ? CAN_EFF_MASK : CAN_SFF_MASK);
  if (frame->can_id & CAN_ERR_FLAG) {
    rubbish(s, sink, &bus_errors, now_s);
    return;
  }
  if (frame->can_id & CAN_RTR_FLAG) /* somebody asks for data: it carries none */
    return;
  if (frame->len > CAN_MAX_DLEN) {
    rubbish(s, sink, &too_long, now_s);
    return;
  }
  if (!take_signals(s, id, extended, frame, sink, now_s))
    return;
  for (guint i = 0; i < s->map->rows->len; i++)
    s->row[i] = ew_freshness_live(&s->fresh[i], now_s) ? s->values[i] : (double)NAN;
  sink->frame(sink->user, now_s, now_s, s->row);
}

static void can_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct can_source *s = (struct can_source *)base;
  struct can_frame frame;
  if (!s->headed)
    sink->head(sink->user, &s->map->channels);
  s->headed = TRUE;
  for (int i = 0; i < AT_ONCE; i++) {
    gssize got = read(base->fd, &frame, sizeof frame);
    if (got == sizeof frame)
      take(s, &frame, sink, ew_monotonic_s());
    else if (got > 0)
      rubbish(s, sink, &wrong_size, now_s);
    else if (got == 0) {
      base->ended = TRUE;
      ew_source_tell(sink, EW_SOURCE_ENDED, ew_message_plain(&closed));
      return;
    } else {
      if (errno != EAGAIN && errno != EINTR && !s->broken) {
        s->broken = TRUE; /* reported once; the interface may come up again */
        ew_source_tell(sink, EW_SOURCE_LOST,
                       ew_message(&ew_source_error, ew_say_text("error", g_strerror(errno))));
      } else if (errno == EAGAIN)
        s->broken = FALSE;
      base->wake_s = s->broken ? now_s + 0.5 : INFINITY;
      return;
    }
  }
}

static const struct ew_source_class fd_class = {"can-fd", "", "", NULL, can_read, NULL, can_close};

struct ew_source *ew_source_can(int fd, struct ew_bus_map *map) {
  struct can_source *s = g_new0(struct can_source, 1);
  s->base = (struct ew_source){.class = &fd_class, .fd = fd, .wake_s = INFINITY};
  s->map = map;
  s->begun_s = NAN;
  s->values = g_new0(double, map->rows->len);
  s->fresh = g_new0(struct ew_freshness, map->rows->len);
  s->row = g_new0(double, map->rows->len);
  for (guint i = 0; i < map->rows->len; i++)
    ew_freshness_begin(&s->fresh[i], signal_at(s, i)->timeout_s);
  fcntl(fd, F_SETFL, fcntl(fd, F_GETFL) | O_NONBLOCK);
  return &s->base;
}

static struct ew_source *can_open(const char *rest, GError **error) {
  const char *query = strchr(rest, '?');
  g_autofree char *name = query ? g_strndup(rest, (gsize)(query - rest)) : g_strdup(rest);
  g_autofree char *path = ew_url_option(rest, "map");
  g_autoptr(ew_bus_map) map = ew_bus_map_file(path, "signals", error);
  if (!map)
    return NULL;
  int fd = socket(PF_CAN, SOCK_RAW | SOCK_CLOEXEC, CAN_RAW);
  struct sockaddr_can address = {.can_family = AF_CAN, .can_ifindex = (int)if_nametoindex(name)};
  can_err_mask_t errors = CAN_ERR_MASK;
  if (fd >= 0 && address.can_ifindex == 0) {
    ew_refuse(
        error,
        "CAN interface '%s' is not here; plug its adapter in and bring it up, or see what it is "
        "called",
        name);
    close(fd);
    return NULL;
  }
  if (fd < 0 || bind(fd, (struct sockaddr *)&address, sizeof address) != 0) {
    ew_refuse(error, "CAN interface '%s': %s", name, g_strerror(errno));
    if (fd >= 0)
      close(fd);
    return NULL;
  }
  setsockopt(fd, SOL_CAN_RAW, CAN_RAW_ERR_FILTER, &errors, sizeof errors);
  return ew_source_can(fd, g_steal_pointer(&map));
}
const struct ew_source_class ew_source_class_can = {"can",
                                                    "can:INTERFACE?map=FILE",
                                                    "signals of a CAN bus (Linux SocketCAN)",
                                                    can_open,
                                                    can_read,
                                                    NULL,
                                                    can_close};
