/* UDP: this side listens, and lines end with the datagram.
 *
 * Anybody on the network can send here, so one sender counts: the one named with from=, else the first
 * that is heard. After five seconds of silence another port of the same host may take over (a logger that
 * began again); another host never does. The rest is counted and reported. An address can be forged:
 * this keeps a second logger out, and no attacker. */
#include "base/error.h"
#include "cell/bus_queue.h"
#include "cell/host.h"
#include "cell/line_parser.h"
#include "cell/source_kinds.h"
#include <errno.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

#define SILENT_S 5.0
#define AT_ONCE  4096 /* datagrams before others have their turn */

struct udp_source {
  struct ew_source base;
  struct ew_line_parser *parser;
  struct ew_host from; /* whom it listens to; none: nobody yet */
  gboolean is_named, any_port;
  double heard_s;  /* when the sender was heard last; INFINITY: not yet */
  gboolean silent; /* reported to be silent */
  double begun_s;  /* the first look */
  struct ew_rubbish strangers;
};

EW_MESSAGE(first_sender, "cell.first-sender", EW_NOTE,
           "{sender}: the first sender heard, and the only one that counts");
EW_MESSAGE(other_port, "cell.sender-other-port", EW_NOTE,
           "{sender}: the sender was silent, and now sends from another port");
EW_MESSAGE(nothing_yet, "cell.nothing-yet", EW_CAUTION,
           "nothing has come in {time}; see that the sender is on, and that it sends to address "
           "and port of "
           "this machine");
EW_MESSAGE(stranger, "cell.stranger", EW_CAUTION,
           "a datagram from {sender} was ignored: the sender here is {ours}");
EW_MESSAGE(stranger_any_port, "cell.stranger-any-port", EW_CAUTION,
           "a datagram from {sender} was ignored: the sender here is {ours} (any port)");
EW_MESSAGE(sender_silent, "cell.sender-silent", EW_CAUTION,
           "the sender has sent nothing for {time}");

static void udp_close(struct ew_source *base) {
  struct udp_source *s = (struct udp_source *)base;
  if (base->fd >= 0)
    close(base->fd);
  ew_line_parser_free(s->parser);
  g_free(s);
}

/* from=HOST, of any port, or from=HOST:PORT. */
static gboolean find_named(struct udp_source *s, const char *rest, GError **error) {
  g_autofree char *from = ew_url_option(rest, "from");
  if (!from)
    return TRUE;
  const char *colon = strrchr(from, ':'), *close = strrchr(from, ']');
  s->is_named = TRUE;
  s->any_port = !colon || (close && colon < close);
  g_autofree char *whole = s->any_port ? g_strconcat(from, ":1", NULL) : g_strdup(from);
  if (ew_host_find(whole, SOCK_DGRAM, &s->from, error))
    return TRUE;
  g_prefix_error(error, "from=%s: ", from);
  return FALSE;
}

static gboolean listen_at(struct udp_source *s, const struct ew_host *here) {
  int room = 4 << 20;
  for (guint i = 0; i < here->count; i++) {
    s->base.fd =
        socket(here->at[i].address.ss_family, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (s->base.fd < 0) /* this machine has no address of this kind */
      continue;
    setsockopt(s->base.fd, SOL_SOCKET, SO_RCVBUF, &room, sizeof room);
    if (bind(s->base.fd, (const struct sockaddr *)&here->at[i].address, here->at[i].size) == 0)
      return TRUE;
    int problem = errno;
    close(s->base.fd);
    s->base.fd = -1;
    errno = problem;
  }
  return FALSE;
}

/* At the field of the form (cell/source_form.c) that is wrong. */
static void refuse_place(const char *rest, int problem, GError **error) {
  const char *place = g_str_has_prefix(rest, "//") ? rest + 2 : rest, *field = "port";
  if (problem == EADDRINUSE)
    ew_refuse(error,
              "%s: another program of this machine listens there; end it, or take another port",
              place);
  else if (problem == EACCES)
    ew_refuse(error, "%s: this program may not listen there; take a port from 1024 on", place);
  else {
    field = "address";
    if (problem == EADDRNOTAVAIL)
      ew_refuse(error, "%s: not an address of this machine; 0.0.0.0 is all of its addresses",
                place);
    else
      ew_refuse(error, "%s: %s", place, g_strerror(problem));
  }
  ew_error_at_field(error, field);
}

static struct ew_source *udp_open(const char *rest, GError **error) {
  struct udp_source *s = g_new0(struct udp_source, 1);
  struct ew_host here = {0};
  s->parser = ew_line_parser_new();
  s->base.fd = -1;
  s->heard_s = INFINITY;
  s->base.wake_s = 0;
  s->begun_s = NAN;
  gboolean good = ew_host_find(rest, SOCK_DGRAM, &here, error) && find_named(s, rest, error);
  if (good && listen_at(s, &here))
    return &s->base;
  if (good)
    refuse_place(rest, errno, error);
  udp_close(&s->base);
  return NULL;
}

static gboolean is_the_one(const struct udp_source *s, const struct ew_host_address *who,
                           gboolean port_too) {
  for (guint i = 0; i < s->from.count; i++)
    if (ew_host_same(&s->from.at[i], who, port_too))
      return TRUE;
  return FALSE;
}

/* From now on this sender counts. */
static void take_sender(struct udp_source *s, const struct ew_host_address *who,
                        const struct ew_source_sink *sink) {
  g_assert(!s->is_named); /* whoever was named is the only one */
  gboolean again = s->from.count > 0;
  g_autofree char *name = ew_host_text(who);
  s->from = (struct ew_host){1, {*who}};
  if (again)
    ew_line_parser_break(s->parser);
  ew_source_tell(sink, EW_SOURCE_CONNECTED,
                 ew_message(again ? &other_port : &first_sender, ew_say_text("sender", name)));
}

static void refuse_stranger(struct udp_source *s, const struct ew_host_address *who,
                            const struct ew_source_sink *sink, double now_s) {
  g_assert(s->from.count > 0); /* else it would have been the first */
  g_autofree char *name = ew_host_text(who), *ours = ew_host_text(&s->from.at[0]);
  ew_message *report =
      ew_rubbish_count(&s->strangers,
                       ew_message(s->any_port ? &stranger_any_port : &stranger,
                                  ew_say_text("sender", name), ew_say_text("ours", ours)),
                       now_s);
  if (report)
    ew_source_tell(sink, EW_SOURCE_STRANGER, report);
}

static gboolean counts(struct udp_source *s, const struct ew_host_address *who,
                       const struct ew_source_sink *sink, double now_s) {
  gboolean silent = now_s - s->heard_s > SILENT_S;
  if (is_the_one(s, who, !s->any_port))
    return TRUE;
  if (!s->is_named && (s->from.count == 0 || (silent && is_the_one(s, who, FALSE)))) {
    take_sender(s, who, sink);
    return TRUE;
  }
  refuse_stranger(s, who, sink, now_s);
  return FALSE;
}

static void udp_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct udp_source *s = (struct udp_source *)base;
  char bytes[65536];
  if (isnan(s->begun_s))
    s->begun_s = now_s;
  for (int i = 0; i < AT_ONCE; i++) {
    struct ew_host_address who = {.size = sizeof who.address};
    gssize got =
        recvfrom(base->fd, bytes, sizeof bytes, 0, (struct sockaddr *)&who.address, &who.size);
    if (got < 0)
      break;
    if (!counts(s, &who, sink, now_s))
      continue;
    s->heard_s = now_s;
    s->silent = FALSE;
    ew_line_parser_feed(s->parser, bytes, (gsize)got, ew_monotonic_s(), sink);
    ew_line_parser_end(s->parser, now_s, sink);
  }
  gboolean heard = s->heard_s < INFINITY;
  double last_s = heard ? s->heard_s : s->begun_s; /* nobody yet: since it listens */
  if (!s->silent && now_s > last_s + SILENT_S) {
    s->silent = TRUE;
    ew_source_tell(sink, EW_SOURCE_LOST,
                   ew_message(heard ? &sender_silent : &nothing_yet,
                              ew_say_quantity("time", EW_KIND_TIME, SILENT_S, 0)));
  }
  base->wake_s = s->silent ? INFINITY : last_s + SILENT_S + 0.01;
}
const struct ew_source_class ew_source_class_udp = {
    "udp",
    "udp://ADDRESS:PORT?from=HOST",
    "lines in datagrams sent to this address by one sender: the one named, or the first heard",
    udp_open,
    udp_read,
    NULL,
    udp_close};
