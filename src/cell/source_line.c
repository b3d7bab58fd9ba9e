/* Line streams: standard input, a file being written, TCP, a serial line or pty.
 *
 * Nothing here waits: connecting is begun and its end awaited by poll; a lost peer is tried again
 * every half second. A host's name is looked up once, when the source is opened; each of its addresses is tried. */
#include "base/error.h"
#include "cell/host.h"
#include "cell/line_parser.h"
#include "cell/source_kinds.h"
#include "cell/source_why.h"
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#define AGAIN_S  0.5
#define FOLLOW_S 0.02
#define SILENT_S 5.0
#define PEER_S   1.0       /* a name with more than one address: how long each may take to answer */
#define AT_ONCE  (1 << 20) /* bytes read before others have their turn */

struct line_source {
  struct ew_source base;
  struct ew_line_parser *parser;
  gboolean connecting, connected, told;
  char *path;
  struct ew_host peer; /* the addresses of a host's name, in the system's order */
  guint peer_now;
  double give_up_s; /* when the next address is tried, while connecting */
  speed_t baud;
  gboolean stay;   /* a file: stay at its end and follow */
  double heard_s;  /* when the last bytes came */
  gboolean silent; /* told to be silent */
  ino_t inode;
};

static struct line_source *new_source(void) {
  struct line_source *s = g_new0(struct line_source, 1);
  s->parser = ew_line_parser_new();
  s->base.fd = -1;
  s->base.wake_s = INFINITY;
  s->heard_s = INFINITY;
  return s;
}

EW_MESSAGE(silent, "cell.silent", EW_CAUTION,
           "the source is connected but has sent nothing for {time}");
EW_MESSAGE(input_ended, "cell.input-ended", EW_NOTE, "standard input ended");
EW_MESSAGE(waiting, "cell.waiting-for-file", EW_CAUTION, "{path}: {error}; waiting for it");
EW_MESSAGE(not_yet, "cell.file-not-yet", EW_CAUTION,
           "{path}: it is not there yet; waiting for it. See that the logger writes, and that the "
           "path is right");
EW_MESSAGE(is_open, "cell.connected", EW_NOTE, "{to}");
EW_MESSAGE(file_ended, "cell.file-ended", EW_NOTE, "end of the file");
EW_MESSAGE(file_replaced_now, "cell.file-replaced", EW_CAUTION,
           "the file was replaced or truncated: reading it from the start");
EW_MESSAGE(no_answer, "cell.no-answer", EW_CAUTION, "no answer");
EW_MESSAGE(broken, "cell.connection-broken", EW_CAUTION, "the connection broke");
EW_MESSAGE(peer_closed, "cell.connection-closed", EW_CAUTION, "the sender closed the connection");
EW_MESSAGE(not_serial, "cell.not-a-serial-line", EW_CAUTION, "not a serial line");
EW_MESSAGE(line_closed, "cell.line-closed", EW_CAUTION, "the line was closed");

static void line_close(struct ew_source *base) {
  struct line_source *s = (struct line_source *)base;
  if (base->fd > 0)
    close(base->fd);
  ew_line_parser_free(s->parser);
  g_free(s->path);
  g_free(s);
}

static gboolean line_send(struct ew_source *base, const char *line) {
  if (base->fd < 0 || ((struct line_source *)base)->connecting)
    return FALSE;
  g_autofree char *text = g_strconcat(line, "\n", NULL);
  gsize size = strlen(text);
  return write(base->fd, text, size) == (gssize)size;
}

static gboolean socket_send(struct ew_source *base, const char *line) {
  if (base->fd < 0 || ((struct line_source *)base)->connecting)
    return FALSE;
  g_autofree char *text = g_strconcat(line, "\n", NULL);
  gsize size = strlen(text);
  return send(base->fd, text, size, MSG_NOSIGNAL | MSG_DONTWAIT) == (gssize)size;
}

/* Reads until there is no more; -1: there may be more later, 0: the end, 1: broken. */
static int drain(struct line_source *s, const struct ew_source_sink *sink, double now_s) {
  char bytes[65536];
  for (gsize total = 0; total < AT_ONCE;) {
    gssize got = read(s->base.fd, bytes, sizeof bytes);
    if (got > 0) {
      s->heard_s = now_s;
      s->silent = FALSE;
      ew_line_parser_feed(s->parser, bytes, (gsize)got, ew_monotonic_s(), sink);
      total += (gsize)got;
      continue;
    }
    if (got == 0)
      return 0;
    if (errno == EINTR)
      continue;
    return errno == EAGAIN || errno == EWOULDBLOCK ? -1 : 1;
  }
  return -1;
}

static void watch_silence(struct line_source *s, const struct ew_source_sink *sink, double now_s) {
  if (!s->silent && now_s > s->heard_s + SILENT_S) {
    s->silent = TRUE;
    ew_source_tell(sink, EW_SOURCE_LOST,
                   ew_message(&silent, ew_say_quantity("time", EW_KIND_TIME, SILENT_S, 0)));
  }
  s->base.wake_s = s->silent ? INFINITY : s->heard_s + SILENT_S + 0.01;
}

/* ---- standard input ---- */

static struct ew_source *stdin_open(const char *rest, GError **error) {
  if (*rest && strcmp(rest, "-") != 0) {
    ew_refuse(error, "write stdin: with nothing after it");
    return NULL;
  }
  struct line_source *s = new_source();
  s->base.fd = 0;
  fcntl(0, F_SETFL, fcntl(0, F_GETFL) | O_NONBLOCK);
  return &s->base;
}

static void stdin_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct line_source *s = (struct line_source *)base;
  int how = drain(s, sink, now_s);
  if (how < 0) {
    watch_silence(s, sink, now_s);
    return;
  }
  ew_line_parser_end(s->parser, now_s, sink);
  base->ended = TRUE;
  ew_source_tell(sink, EW_SOURCE_ENDED, ew_message_plain(&input_ended));
}
const struct ew_source_class ew_source_class_stdin = {
    "stdin", "stdin:", "lines on standard input", stdin_open, stdin_read, NULL, line_close};

/* ---- a file being written ---- */

static struct ew_source *file_open(const char *rest, GError **error) {
  g_autofree char *end = ew_url_option(rest, "end");
  const char *query = strchr(rest, '?');
  struct line_source *s = new_source();
  s->path = query ? g_strndup(rest, (gsize)(query - rest)) : g_strdup(rest);
  ew_line_parser_of_file(s->parser);
  s->stay = !(end && strcmp(end, "stop") == 0);
  s->base.wake_s = 0;
  if (!*s->path) {
    ew_refuse(error, "a path is missing");
    line_close(&s->base);
    return NULL;
  }
  return &s->base;
}

static void file_look(struct line_source *s, const struct ew_source_sink *sink) {
  struct stat facts;
  g_assert(s->base.fd < 0);
  s->base.fd = open(s->path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (s->base.fd < 0) {
    if (!s->told)
      ew_source_tell(sink, EW_SOURCE_LOST,
                     errno == ENOENT ? ew_message(&not_yet, ew_say_text("path", s->path))
                                     : ew_message(&waiting, ew_say_text("path", s->path),
                                                  ew_say_text("error", g_strerror(errno))));
    s->told = TRUE;
    return;
  }
  s->told = FALSE;
  if (fstat(s->base.fd, &facts) == 0)
    s->inode = facts.st_ino;
  s->heard_s = ew_monotonic_s();
  ew_source_tell(sink, EW_SOURCE_CONNECTED, ew_message(&is_open, ew_say_text("to", s->path)));
}

/* The file was replaced or cut: begin again with the one that is there now. */
static gboolean file_replaced(const struct line_source *s) {
  struct stat there, here;
  if (stat(s->path, &there) != 0)
    return FALSE;
  return there.st_ino != s->inode ||
         (fstat(s->base.fd, &here) == 0 && here.st_size < lseek(s->base.fd, 0, SEEK_CUR));
}

static void file_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct line_source *s = (struct line_source *)base;
  base->wake_s = now_s + FOLLOW_S;
  if (base->fd < 0)
    file_look(s, sink);
  if (base->fd < 0)
    return;
  int how = drain(s, sink, now_s);
  if (how < 0) {
    base->wake_s = now_s;
    return;
  }
  if (!s->stay) {
    ew_line_parser_end(s->parser, now_s, sink);
    base->ended = TRUE;
    ew_source_tell(sink, EW_SOURCE_ENDED, ew_message_plain(&file_ended));
  } else if (how > 0 || file_replaced(s)) {
    ew_source_tell(sink, EW_SOURCE_LOST, ew_message_plain(&file_replaced_now));
    ew_line_parser_break(s->parser);
    close(base->fd);
    base->fd = -1;
    s->heard_s = INFINITY;
  } else {
    watch_silence(s, sink, now_s);
    base->wake_s = now_s + FOLLOW_S;
  }
}
const struct ew_source_class ew_source_class_file = {
    "file",    "file:PATH", "a file being written, followed; file:PATH?end=stop ends at its end",
    file_open, file_read,   NULL,
    line_close};

/* ---- TCP ---- */

static struct ew_source *tcp_open(const char *rest, GError **error) {
  struct line_source *s = new_source();
  s->base.wake_s = 0;
  if (ew_host_find(rest, SOCK_STREAM, &s->peer, error))
    return &s->base;
  line_close(&s->base);
  return NULL;
}

/* Takes `given`. */
static void tcp_drop(struct line_source *s, const struct ew_source_sink *sink, ew_message *given,
                     double now_s) {
  g_autoptr(ew_message) why = given;
  if (s->base.fd >= 0)
    close(s->base.fd);
  s->base.fd = -1;
  gboolean next =
      s->connecting && s->peer_now + 1 < s->peer.count; /* the name has another address */
  s->peer_now = next ? s->peer_now + 1 : s->connected ? s->peer_now : 0;
  s->base.wake_s = now_s + (next ? 0 : AGAIN_S);
  if (next) {
    s->connecting = FALSE;
    return;
  }
  s->heard_s = INFINITY;
  ew_line_parser_break(s->parser);
  if (!s->told)
    ew_source_tell(sink, EW_SOURCE_LOST, g_steal_pointer(&why));
  s->told = TRUE;
  s->connecting = s->connected = FALSE;
}

static void tcp_connect(struct line_source *s, const struct ew_source_sink *sink, double now_s) {
  int one = 1, idle = 2, count = 2;
  g_assert(s->base.fd < 0 && s->peer_now < s->peer.count && !s->connecting);
  s->base.fd = socket(s->peer.at[s->peer_now].address.ss_family,
                      SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
  setsockopt(s->base.fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
  /* a peer that vanished without a word is found within six seconds */
  setsockopt(s->base.fd, SOL_SOCKET, SO_KEEPALIVE, &one, sizeof one);
  setsockopt(s->base.fd, IPPROTO_TCP, TCP_KEEPIDLE, &idle, sizeof idle);
  setsockopt(s->base.fd, IPPROTO_TCP, TCP_KEEPINTVL, &idle, sizeof idle);
  setsockopt(s->base.fd, IPPROTO_TCP, TCP_KEEPCNT, &count, sizeof count);
  s->connecting = TRUE;
  s->base.wake_s = now_s + 0.01;
  s->give_up_s = s->peer.count > 1 ? now_s + PEER_S : INFINITY;
  if (connect(s->base.fd, (struct sockaddr *)&s->peer.at[s->peer_now].address,
              s->peer.at[s->peer_now].size) != 0 &&
      errno != EINPROGRESS)
    tcp_drop(s, sink, ew_source_why_peer(errno), now_s);
}

static void tcp_connecting(struct line_source *s, const struct ew_source_sink *sink, double now_s) {
  g_assert(s->base.fd >= 0 && s->connecting && !s->connected);
  struct pollfd poll_one = {s->base.fd, POLLOUT, 0};
  int problem = 0;
  socklen_t size = sizeof problem;
  s->base.wake_s = now_s + 0.01;
  if (poll(&poll_one, 1, 0) <= 0) {
    if (now_s >= s->give_up_s)
      tcp_drop(s, sink, ew_message_plain(&no_answer), now_s);
    return;
  }
  getsockopt(s->base.fd, SOL_SOCKET, SO_ERROR, &problem, &size);
  if (problem) {
    tcp_drop(s, sink, ew_source_why_peer(problem), now_s);
    return;
  }
  s->connecting = FALSE;
  s->connected = TRUE;
  s->told = FALSE;
  s->heard_s = now_s;
  ew_source_tell(sink, EW_SOURCE_CONNECTED, ew_message(&is_open, ew_say_text("to", s->base.url)));
}

static void tcp_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct line_source *s = (struct line_source *)base;
  int one = 1;
  if (base->fd < 0) {
    if (now_s < base->wake_s)
      return;
    tcp_connect(s, sink, now_s);
  }
  if (base->fd >= 0 && s->connecting)
    tcp_connecting(s, sink, now_s);
  if (base->fd < 0 || s->connecting)
    return;
  int how = drain(s, sink, now_s);
  /* else a sender without TCP_NODELAY waits for our delayed acknowledgement, up to 40 ms */
  setsockopt(base->fd, IPPROTO_TCP, TCP_QUICKACK, &one, sizeof one);
  if (how >= 0)
    tcp_drop(s, sink, ew_message_plain(how ? &broken : &peer_closed), now_s);
  else
    watch_silence(s, sink, now_s);
}
const struct ew_source_class ew_source_class_tcp = {
    "tcp",
    "tcp://HOST:PORT?control=yes",
    "lines from a TCP server; connected again when lost",
    tcp_open,
    tcp_read,
    socket_send,
    line_close};

/* ---- a serial line or pty ---- */

static gboolean baud_of(double rate, speed_t *baud) {
  static const struct {
    double rate;
    speed_t baud;
  } known[] = {{9600, B9600},     {19200, B19200},   {38400, B38400},   {57600, B57600},
               {115200, B115200}, {230400, B230400}, {460800, B460800}, {921600, B921600}};
  for (gsize i = 0; i < G_N_ELEMENTS(known); i++)
    if (known[i].rate == rate) {
      *baud = known[i].baud;
      return TRUE;
    }
  return FALSE;
}

static struct ew_source *serial_open(const char *rest, GError **error) {
  double rate;
  const char *query = strchr(rest, '?');
  struct line_source *s = new_source();
  s->path = query ? g_strndup(rest, (gsize)(query - rest)) : g_strdup(rest);
  s->base.wake_s = 0;
  if (ew_url_number(rest, "baud", 115200, 9600, 921600, &rate, error) &&
      (baud_of(rate, &s->baud) ||
       ew_refuse(error,
                 "baud=%g: write 9600, 19200, 38400, 57600, 115200, 230400, 460800 or 921600",
                 rate)))
    return &s->base;
  line_close(&s->base);
  return NULL;
}

static void serial_connect(struct line_source *s, const struct ew_source_sink *sink, double now_s) {
  g_assert(s->base.fd < 0);
  s->base.fd = open(s->path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  struct termios line;
  if (s->base.fd < 0 || tcgetattr(s->base.fd, &line) != 0) {
    tcp_drop(s, sink, s->base.fd < 0 ? ew_source_why_device(errno) : ew_message_plain(&not_serial),
             now_s);
    return;
  }
  cfmakeraw(&line);
  line.c_cflag |= CLOCAL | CREAD;
  cfsetspeed(&line, s->baud);
  tcsetattr(s->base.fd, TCSANOW, &line);
  s->told = FALSE;
  s->heard_s = now_s;
  ew_source_tell(sink, EW_SOURCE_CONNECTED, ew_message(&is_open, ew_say_text("to", s->path)));
}

static void serial_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct line_source *s = (struct line_source *)base;
  if (base->fd < 0 && now_s >= base->wake_s)
    serial_connect(s, sink, now_s);
  if (base->fd < 0)
    return;
  if (drain(s, sink, now_s) >= 0)
    tcp_drop(s, sink, ew_message_plain(&line_closed), now_s);
  else
    watch_silence(s, sink, now_s);
}
const struct ew_source_class ew_source_class_serial = {"serial",
                                                       "serial:/dev/DEVICE?baud=115200",
                                                       "lines on a serial line or pty, 8N1",
                                                       serial_open,
                                                       serial_read,
                                                       line_send,
                                                       line_close};
