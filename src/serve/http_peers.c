/* Connections: how many, from where, and by when each must have sent what it began. */
#include "serve/http_parts.h"
#include <netinet/in.h>
#include <sys/socket.h>

#define FAR         192u /* of the connections, for other machines; the rest is kept for this one */
#define PER_ADDRESS 64u  /* of them, for one other machine */
#define NEAR        64u  /* of this machine: beyond these a newcomer takes the place of another */
#define NEAR_READS                                                                                 \
  256u /* the same of a listener that is only read: a proxy has all its viewers on this machine */
#define HEADER_US (10 * G_USEC_PER_SEC)
#define BODY_US   (60 * G_USEC_PER_SEC)
#define REPLY_US  (60 * G_USEC_PER_SEC) /* of a listener that is only read */

struct ew_peer *ew_peer_of(struct MHD_Connection *connection) {
  const union MHD_ConnectionInfo *info =
      MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
  return info ? info->socket_context : NULL;
}

static guint32 ipv4_of(const struct sockaddr *address) {
  return address && address->sa_family == AF_INET
             ? ntohl(((const struct sockaddr_in *)(const void *)address)->sin_addr.s_addr)
             : 0;
}

/* The peer's IPv4 address; 0 when it is none. */
guint32 ew_peer_address(struct MHD_Connection *connection) {
  const union MHD_ConnectionInfo *info =
      MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
  return ipv4_of(info ? info->client_addr : NULL);
}

gboolean ew_peer_is_far(guint32 address) {
  return address >> 24 != 127;
}

/* Who may be sent away for a newcomer: first who has proved nothing, of these who came first. What a worker answers stays. */
static struct ew_peer *least_of_near(const struct ew_http *h) {
  struct ew_peer *least = NULL;
  for (guint i = 0; i < h->peers->len; i++) {
    struct ew_peer *peer = g_ptr_array_index(h->peers, i);
    if (peer->far || peer->ended || peer->asked)
      continue;
    if (!least || peer->proven < least->proven ||
        (peer->proven == least->proven && peer->since < least->since))
      least = peer;
  }
  return least;
}

/* Anybody with an account on this machine can knock by the hundred: the page's own browser still gets in. */
static void make_room(struct ew_http *h) {
  struct ew_peer *least = least_of_near(h);
  if (!least)
    return;
  g_assert(!least->far && !least->asked);
  least->ended = TRUE;
  ew_http_hang_up_peer(h, least);
  shutdown(least->fd, SHUT_RDWR);
}

/* A crowd of neighbours must not keep this machine's own page out. */
enum MHD_Result ew_peers_on_knock(void *user, const struct sockaddr *address, socklen_t size) {
  struct ew_http *h = user;
  guint32 from = ipv4_of(address);
  guint far = 0, near = 0, same = 0;
  (void)size;
  for (guint i = 0; i < h->peers->len; i++) {
    const struct ew_peer *peer = g_ptr_array_index(h->peers, i);
    far += peer->far;
    near += !peer->far && !peer->ended;
    same += peer->address == from;
  }
  if (ew_peer_is_far(from))
    return far >= FAR || same >= PER_ADDRESS ? MHD_NO : MHD_YES;
  if (near >= (h->options.reads_only ? NEAR_READS : NEAR))
    make_room(h);
  return MHD_YES;
}

void ew_peers_on_connection(void *user, struct MHD_Connection *connection, void **context,
                            enum MHD_ConnectionNotificationCode code) {
  struct ew_http *h = user;
  if (code == MHD_CONNECTION_NOTIFY_STARTED) {
    struct ew_peer *peer = g_new0(struct ew_peer, 1);
    peer->fd = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd;
    peer->address = ew_peer_address(connection);
    peer->far = ew_peer_is_far(peer->address);
    peer->since = g_get_monotonic_time();
    if (h->options
            .reads_only) { /* what is not read waits here, where it has a deadline, and not in the kernel's memory */
      int small = 65536;
      setsockopt(peer->fd, SOL_SOCKET, SO_SNDBUF, &small, sizeof small);
    }
    g_ptr_array_add(h->peers, peer);
    *context = peer;
  } else if (*context) {
    g_ptr_array_remove_fast(h->peers, *context);
    *context = NULL;
  }
}

gboolean ew_peers_on_watch(gpointer user) {
  struct ew_http *h = user;
  gint64 now = g_get_monotonic_time();
  for (guint i = 0; i < h->peers->len; i++) {
    const struct ew_peer *peer = g_ptr_array_index(h->peers, i);
    gint64 due = peer->served ? h->reply_us : peer->body ? h->body_us : h->header_us;
    if (now - peer->since > due)
      shutdown(peer->fd, SHUT_RDWR);
  }
  ew_http_end_idle_viewers(h, now);
  ew_http_pump(h);
  return G_SOURCE_CONTINUE;
}

/* EW_HTTP_DEADLINE_MS sets both, for tests. */
void ew_peers_settle_deadlines(struct ew_http *h) {
  const char *text = g_getenv("EW_HTTP_DEADLINE_MS");
  guint64 ms;
  h->header_us = HEADER_US;
  h->body_us = BODY_US;
  h->reply_us = h->options.reads_only ? REPLY_US : G_MAXINT64;
  if (text && g_ascii_string_to_unsigned(text, 10, 100, 60000, &ms, NULL))
    h->header_us = h->body_us = (gint64)ms * 1000;
  if (text && h->options.reads_only)
    h->reply_us = h->body_us;
}
