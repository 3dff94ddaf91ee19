/*
 * How a machine's line is spoken: plain data, filled from the machine's configuration and handed to
 * the carrier. One value describes one channel's way into the control.
 *
 * Sources: DC1..DC4 are ISO 646 / ECMA-6 positions 1/1..1/4; character frames are start + data +
 * parity + stop bits; the rest is common practice and differs between controls, hence settings.
 */
#ifndef YOKE_LINE_H
#define YOKE_LINE_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/limits.h"

enum line_kind {
	LINE_NONE = 0,  /* the machine has no line: nothing can be carried */
	LINE_DIRECTORY, /* a mounted share or local directory */
	LINE_SERIAL,    /* a local port or a device server */
	LINE_STICK,     /* a person with a stick or memory card: no carrier */
	LINE_REMOTE,    /* a share on a server: FTP, FTPS or SFTP */
};

/* True for a kind whose programs lie in a folder that a carrier can read, compare and put back. */
static inline bool line_is_share(enum line_kind kind)
{
	return kind == LINE_DIRECTORY || kind == LINE_REMOTE;
}

/* How a character leaves us on an 8-bit clean path. */
enum line_code {
	LINE_CODE_ASCII = 0, /* bytes as they are; the port adds parity, if any */
	LINE_CODE_ISO,       /* ISO 840: 7 bits with even parity in bit 8, made by us */
	LINE_CODE_EIA,       /* EIA RS-244: 8 tracks with odd parity, made by us */
};

/* Codes of EIA on which tables and controls do not agree, or that only some controls have. */
enum line_eia {
	LINE_EIA_ER = 0, /* end of record, rewind stop: stands for % */
	LINE_EIA_TAB,
	LINE_EIA_UC, /* shifts: read over */
	LINE_EIA_LC,
	LINE_EIA_BS,
	LINE_EIA_AND,
	LINE_EIA_OPEN, /* ( and ), control out and control in */
	LINE_EIA_CLOSE,
	LINE_EIA_COLON,
	LINE_EIA_STAR,
	LINE_EIA_EQUAL,
	LINE_EIA_HASH,
	LINE_EIA_LEFT, /* [ and ] */
	LINE_EIA_RIGHT,
	LINE_EIA_AT,
	LINE_EIA_DOLLAR,
	LINE_EIA_CODES, /* how many */
};

/* Says of one of them that the control does not have it; no EIA code itself, being even. */
#define LINE_EIA_NONE 0xFF

enum line_framing { /* what a port that we can set is set to */
	LINE_8N1 = 0,
	LINE_7E1,
	LINE_7E2,
	LINE_7O1,
	LINE_8N2,
	LINE_8E1,
};

enum line_eob { /* end of block on the line */
	LINE_EOB_LF = 0,
	LINE_EOB_CRLF,
	LINE_EOB_LFCRCR,
};

/* Who brakes our sending. DC1 and DC3 are honoured by ourselves, with and without bit 8. */
enum line_flow {
	LINE_FLOW_XON = 0, /* the control, with DC3 and DC1 */
	LINE_FLOW_RTSCTS,  /* its RTS, which is our CTS */
	LINE_FLOW_DTRDSR,  /* its DTR, which is our DSR */
	LINE_FLOW_BOTH,    /* DC3 and DC1, and RTS/CTS */
	LINE_FLOW_NONE,    /* nobody: the control takes all at the line's speed */
};

/* The modem line of a local port that tells whether the control is on and the cable whole. */
enum line_watch {
	LINE_WATCH_NONE = 0, /* not wired */
	LINE_WATCH_DSR,
	LINE_WATCH_DCD,
};

enum line_read_back {
	LINE_READ_BACK_NONE = 0, /* the control cannot punch */
	LINE_READ_BACK_PUNCH,    /* the operator punches after the load; we listen and compare */
};

/* Whether the control can execute a program while it reads it, with nothing of it in its memory:
 * drip feed. */
enum line_drip {
	LINE_DRIP_NO = 0, /* it cannot, or nobody has said so */
	LINE_DRIP_ALONE,  /* it can, and does no wait codes then */
	LINE_DRIP_WAITS,  /* it can, wait codes included */
};

enum { LINE_WORD_MAX = 40 }; /* characters of a channel word */

/* All times in milliseconds; 0 means "no limit" only where said. */
struct line_serial {
	char address[YOKE_PATH_MAX + 1]; /* tcp://HOST:PORT, rfc2217://HOST:PORT, or a local port
	                                 (daemon/common/port_address.h) */
	uint32_t baud; /* bits per second; also the pace used to compute line time */
	enum line_framing framing;
	enum line_code code;
	uint8_t
	    eia[LINE_EIA_CODES]; /* with LINE_CODE_EIA; 0: as wire/eia.h has it; or LINE_EIA_NONE */
	enum line_eob eob;       /* EIA has one end of block of its own */
	enum line_flow flow;
	enum line_watch watch;
	enum line_read_back read_back;
	enum line_drip drip;
	char channel_word[LINE_WORD_MAX + 1]; /* a block of its own right behind the opening %, by
	                                         which the control knows the channel, and says it
	                                         (daemon/wire/channel_word.h); "": none */
	bool wait_dc1;         /* send nothing before the control's DC1 */
	bool dc2_dc4;          /* frame our text with DC2 ... DC4 (host as punch); default off */
	uint32_t leader;       /* NULs before the first character */
	uint32_t trailer;      /* NULs after the last */
	uint32_t char_pause;   /* after each character */
	uint32_t block_pause;  /* after each end of block, if longer than char_pause */
	uint32_t reserve;      /* most unsent characters kept below us, characters */
	uint32_t open_ms;      /* to open or connect */
	uint32_t first_ms;     /* for the control's first DC1; 0: for ever */
	uint32_t stall_ms;     /* held by DC3, or nothing taken by the line */
	uint32_t total_ms;     /* for one program; 0: computed from size and baud, times four, plus
	                          stall_ms */
	uint32_t read_back_ms; /* for the first character of the punched copy */
	uint32_t silence_ms;   /* a punched text has ended when the line was silent this long */
	bool patient; /* no setting: a drip feed; stall_ms and total_ms end nothing, the control
	                 takes the program as slowly as it cuts */
};

struct line_directory {
	char root[YOKE_PATH_MAX + 1];   /* absolute path of the share's mount point */
	char marker[YOKE_NAME_MAX + 1]; /* file that must exist in root, "" for none */
	char folder[YOKE_PATH_MAX + 1]; /* this channel's folder below root, "" for root itself */
	uint32_t total_ms;              /* for the whole order */
};

/* How the ends of lines are written where a program is a file. */
enum line_ends {
	LINE_ENDS_AS_IS = 0, /* as they were dropped */
	LINE_ENDS_LF,
	LINE_ENDS_CRLF,
};

struct line_stick {
	char folder[YOKE_PATH_MAX + 1]; /* this channel's folder on the stick, "" for its root */
};

/* When TLS begins with ftps:// (RFC 4217; implicit is older and has a port of its own). */
enum line_tls {
	LINE_TLS_EXPLICIT = 0,
	LINE_TLS_IMPLICIT,
};

/* A secret is named, never held: "credential:NAME" (a file in $CREDENTIALS_DIRECTORY, as systemd gives
 * it) or "file:/PATH" (a file of ours that nobody else may read); "" for none. */
struct line_remote {
	char address[YOKE_PATH_MAX + 1]; /* daemon/common/remote_address.h */
	enum line_tls tls;
	char root[YOKE_PATH_MAX + 1];   /* absolute path on the server */
	char marker[YOKE_NAME_MAX + 1]; /* file that must exist in root, "" for none */
	char folder[YOKE_PATH_MAX + 1]; /* this channel's folder below root, "" for root itself */
	char user[YOKE_NAME_MAX + 1];
	char password[YOKE_PATH_MAX + 1]; /* a secret */
	char key[YOKE_PATH_MAX + 1];      /* a secret: the client's key, SFTP */
	char pin[YOKE_NAME_MAX + 1];      /* of the server's key: "sha256//BASE64" with TLS,
	                                     "SHA256:BASE64" with SSH; "" for none */
	char ca[YOKE_PATH_MAX + 1];       /* certificates that may vouch for the server, "" the system's */
	char known_hosts[YOKE_PATH_MAX + 1]; /* "" for none */
	bool verify;        /* false: whoever answers is taken for the server */
	uint32_t open_ms;   /* to connect and log in */
	uint32_t answer_ms; /* for the answer to one command */
	uint32_t stall_ms;  /* while a file moves and nothing of it comes or goes */
	uint32_t total_ms;  /* for the whole order */
};

struct line {
	enum line_kind kind;
	char name[YOKE_PATH_MAX +
	          1]; /* pattern of the name on the machine: {number} {job} {rev} {channel} */
	/* Where a program is a file, on a share or a stick: */
	enum line_ends eob;
	bool upper_case;  /* its name is, whatever the pattern gives */
	bool short_names; /* 8.3, in upper case */
	union {
		struct line_serial serial;
		struct line_directory directory;
		struct line_stick stick;
		struct line_remote remote;
	};
};

/* Bits per character on the line for a framing, start and stop bits included (10 for 8N1, 11 for
 * 7E2). */
static inline unsigned line_bits(enum line_framing f)
{
	switch (f) {
	case LINE_7E2:
	case LINE_8N2:
	case LINE_8E1:
		return 11;
	case LINE_8N1:
	case LINE_7E1:
	case LINE_7O1:
		break;
	}
	return 10;
}

/* True when a framing has 7 data bits, so that bit 8 of a byte does not reach the other side. */
static inline bool line_seven(enum line_framing f)
{
	switch (f) {
	case LINE_7E1:
	case LINE_7E2:
	case LINE_7O1:
		return true;
	case LINE_8N1:
	case LINE_8N2:
	case LINE_8E1:
		break;
	}
	return false;
}

#endif
