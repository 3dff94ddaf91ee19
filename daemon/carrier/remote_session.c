#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "remote_call.h"
#include "yoke/text.h"

struct remote_session *remote_session_new(
    const struct line_remote *r, uint32_t item, struct folder_order *order, struct fault *fault)
{
	static const char *const scheme[] = {"ftp", "ftps", "sftp"};
	struct remote_session *s = calloc(1, sizeof *s);
	const char *wrong;

	if (!s) {
		fault_set(fault, CARRY_ERROR_IO, item, "no memory for a session");
		return NULL;
	}
	s->holders = 1;
	s->line = r;
	s->order = order;
	s->lib = curl_lib();
	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		s->socket[i] = -1;
	wrong = remote_address_read(r->address, &s->address);
	if (wrong || !s->lib) {
		fault_set(fault, CARRY_ERROR_ORDER, item, "%s",
		    wrong ? wrong : "libcurl is not there: install the package libcurl4");
		goto fail;
	}
	if (s->address.scheme == REMOTE_SFTP && r->verify && !*r->pin && !*r->known_hosts) {
		fault_set(fault, CARRY_ERROR_ORDER, item, "sftp:// needs pin or known_hosts");
		goto fail;
	}
	snprintf(s->name, sizeof s->name, "%s://%s", scheme[s->address.scheme], s->address.host);
	if (s->address.port) {
		size_t n = strlen(s->name);

		snprintf(s->name + n, sizeof s->name - n, ":%u", s->address.port);
	}
	if ((*r->password && secret_read(r->password, "password", item, s->password, fault)) ||
	    (*r->key && secret_path(r->key, "key", item, s->key, fault)))
		goto fail;
	return s;
fail:
	remote_session_free(s);
	return NULL;
}

struct remote_session *remote_session_hold(struct remote_session *s)
{
	s->holders++;
	return s;
}

void remote_session_free(struct remote_session *s)
{
	if (!s || --s->holders)
		return;
	if (s->lib)
		remote_drop(s);
	explicit_bzero(s->password, sizeof s->password);
	free(s);
}

bool remote_session_fits(const struct remote_session *s, const struct line_remote *r)
{
	const struct line_remote *l = s->line;

	return !strcmp(l->address, r->address) && l->tls == r->tls && !strcmp(l->user, r->user) &&
	       !strcmp(l->password, r->password) && !strcmp(l->key, r->key) &&
	       !strcmp(l->pin, r->pin) && !strcmp(l->ca, r->ca) &&
	       !strcmp(l->known_hosts, r->known_hosts) && l->verify == r->verify &&
	       l->open_ms == r->open_ms && l->answer_ms == r->answer_ms &&
	       l->stall_ms == r->stall_ms && l->total_ms == r->total_ms;
}

const char *remote_session_name(const struct remote_session *s)
{
	return s->name;
}

bool remote_session_vague(const struct remote_session *s)
{
	return s->address.scheme != REMOTE_SFTP;
}

/* A path that could end a command begins another: names were looked at before, and are again. */
static bool is_path(const char *path)
{
	if (*path != '/')
		return false;
	for (; *path; path++)
		if ((unsigned char)*path < ' ' || *path == 0x7f)
			return false;
	return true;
}

static CURLcode call(struct remote_call *c, const char *path, struct curl_slist *quote)
{
	struct remote_session *s = c->session;
	bool moves = c->kind != REMOTE_SIZE && c->kind != REMOTE_CHANGE;
	CURL *curl;
	CURLcode rc;

	if (moves && s->moved && s->tls_1_3)
		remote_drop(s);
	curl = remote_handle(c, path);
	if (!curl)
		return s->lacks ? CURLE_NOT_BUILT_IN : CURLE_OUT_OF_MEMORY;
	if (s->lib->setopt(curl, CURLOPT_QUOTE, quote) != CURLE_OK)
		return CURLE_OUT_OF_MEMORY;
	s->sending = c->kind == REMOTE_PUT;
	s->left = false;
	rc = remote_drive(s);
	s->sending = false;
	s->lib->getinfo(curl, CURLINFO_RESPONSE_CODE, &c->code);
	s->moved |= moves;
	return rc;
}

/* After these the last answer was the one to the last command. After others libcurl may have taken an answer
 * for that to another command, and would do so with each that follows: a rename that was never done was done. */
static bool in_step(CURLcode rc)
{
	return rc == CURLE_OK || rc == CURLE_QUOTE_ERROR || rc == CURLE_REMOTE_FILE_NOT_FOUND ||
	       rc == CURLE_REMOTE_ACCESS_DENIED || rc == CURLE_FTP_COULDNT_RETR_FILE ||
	       rc == CURLE_UPLOAD_FAILED;
}

/*
 * Do one call. c->kind and what belongs to it are filled; quote: commands, freed here.
 *
 * Servers may demand that a data connection takes up the TLS session of its control connection. With
 * TLS 1.2 any number can; with TLS 1.3 the second one cannot, and each file and list wants a connection
 * and a login of its own. So TLS 1.3 is agreed on only with a server that has nothing older.
 *
 * Over SSH a server that ends in the middle of a login looks as if it had refused it; so one that has
 * left is asked once more.
 */
static int perform(struct remote_call *c, const char *path, struct curl_slist *quote)
{
	struct remote_session *s = c->session;
	CURLcode rc = call(c, path, quote);
	int result;

	if (rc == CURLE_SSL_CONNECT_ERROR && !s->spoke && !s->tls_1_3 &&
	    s->address.scheme == REMOTE_FTPS) {
		remote_drop(s);
		s->tls_1_3 = true;
		rc = call(c, path, quote); /* nothing has gone over: no more than a greeting was said */
	}
	if (rc == CURLE_LOGIN_DENIED && s->left && s->address.scheme == REMOTE_SFTP) {
		remote_drop(s);
		rc = call(c, path, quote);
	}
	s->spoke |= rc == CURLE_OK;
	result = remote_judge(c, rc);
	/* After the server's plain no the connection is as good as before. */
	if (!in_step(rc) || (result && result != -ENOENT &&
	                        !(result == FOLDER_SAID && s->order->said.error == CARRY_ERROR_REFUSED)))
		remote_drop(s);
	s->lib->slist_free(quote);
	return result;
}

int remote_session_get(struct remote_session *s, const char *path, remote_take *take, void *ctx)
{
	struct remote_call c = {.session = s, .kind = REMOTE_GET, .take = take, .ctx = ctx};

	return is_path(path) ? perform(&c, path, NULL) : -EINVAL;
}

int remote_session_size(struct remote_session *s, const char *path, int64_t *size)
{
	struct remote_call c = {.session = s, .kind = REMOTE_SIZE};
	curl_off_t told = -1;
	int rc = is_path(path) ? perform(&c, path, NULL) : -EINVAL;

	if (!rc)
		s->lib->getinfo(s->curl, CURLINFO_CONTENT_LENGTH_DOWNLOAD_T, &told);
	*size = rc ? -1 : told;
	return rc;
}

int remote_session_put(
    struct remote_session *s, const char *path, const unsigned char *bytes, size_t size)
{
	struct remote_call c = {
	    .session = s, .kind = REMOTE_PUT, .bytes = bytes, .size = size};
	curl_off_t sent = -1;
	int rc = is_path(path) ? perform(&c, path, NULL) : -EINVAL;

	if (rc)
		return rc;
	s->lib->getinfo(s->curl, CURLINFO_SIZE_UPLOAD_T, &sent);
	return sent == (curl_off_t)size ? 0 : -EBADMSG;
}

struct long_list {
	char line[256]; /* its beginning */
	size_t n;
	size_t files;
};

static void end_long_line(struct long_list *l)
{
	size_t n = l->n;

	l->n = 0;
	while (n && (l->line[n - 1] == '\r' || l->line[n - 1] == ' '))
		n--;
	l->line[n] = '\0';
	if (n && strncasecmp(l->line, "total", 5) && strcmp(l->line + n - (n < 2 ? n : 2), " .") &&
	    strcmp(l->line + n - (n < 3 ? n : 3), " .."))
		l->files++;
}

static int take_long(void *ctx, const void *bytes, size_t n)
{
	struct long_list *l = ctx;
	const char *s = bytes;

	for (size_t i = 0; i < n; i++)
		if (s[i] == '\n')
			end_long_line(l);
		else if (l->n < sizeof l->line - 1)
			l->line[l->n++] = s[i];
	return 0;
}

/*
 * A server refused the list of names. Some do so where the folder is empty (common practice), and
 * say 550 as they say it to a folder that may not be read: the long list tells which. True:
 * it was given, and holds no file.
 */
static bool is_empty(struct remote_session *s, const char *folder)
{
	struct long_list l = {.n = 0};
	struct remote_call c = {.session = s, .kind = REMOTE_LONG_LIST, .take = take_long, .ctx = &l};
	const struct fault said = s->order->said;
	int rc = perform(&c, folder, NULL);

	if (!rc)
		end_long_line(&l);
	s->order->said = said;
	return !rc && !l.files;
}

int remote_session_list(struct remote_session *s, const char *path, remote_take *take, void *ctx)
{
	struct remote_call c = {.session = s, .kind = REMOTE_LIST, .take = take, .ctx = ctx};
	struct text folder = {0};
	int rc = -ENOMEM;

	if (!is_path(path))
		return -EINVAL;
	text_puts(&folder, path);
	if (path[strlen(path) - 1] != '/')
		text_putc(&folder, '/');
	if (!folder.failed)
		rc = perform(&c, folder.s, NULL);
	if (rc == FOLDER_SAID && (c.code == 450 || c.code == 550) && is_empty(s, folder.s))
		rc = 0;
	text_free(&folder);
	return rc;
}

/* A path within an SFTP command: in double quotes, with those and backslashes escaped. FTP takes the
 * rest of the line as it is. */
static void put_path(const struct remote_session *s, struct text *command, const char *path)
{
	bool quoted = s->address.scheme == REMOTE_SFTP;

	if (quoted)
		text_putc(command, '"');
	for (; *path; path++) {
		if (quoted && (*path == '"' || *path == '\\'))
			text_putc(command, '\\');
		text_putc(command, *path);
	}
	if (quoted)
		text_putc(command, '"');
}

/* word, and up to two paths behind it, as one more command. */
static int add(const struct remote_session *s, struct curl_slist **list, const char *word,
    const char *one, const char *two)
{
	struct text command = {0};
	struct curl_slist *more = NULL;

	if (!is_path(one) || (two && !is_path(two)))
		return -EINVAL;
	text_printf(&command, "%s ", word);
	put_path(s, &command, one);
	if (two) {
		text_putc(&command, ' ');
		put_path(s, &command, two);
	}
	if (!command.failed)
		more = s->lib->slist_append(*list, command.s);
	text_free(&command);
	*list = more ? more : *list;
	return more ? 0 : -ENOMEM;
}

/* Commands whose end is known only when their answer came: refused is set when it was no. */
static int change(struct remote_session *s, int rc, struct curl_slist *commands)
{
	struct remote_call c = {.session = s, .kind = REMOTE_CHANGE};

	s->order->refused = true; /* nothing was sent yet */
	if (!rc)
		return perform(&c, s->address.scheme == REMOTE_SFTP ? "" : "/", commands);
	s->lib->slist_free(commands);
	return rc;
}

int remote_session_rename(struct remote_session *s, const char *from, const char *to)
{
	struct curl_slist *list = NULL;
	int rc;

	if (s->address.scheme == REMOTE_SFTP) {
		rc = add(s, &list, "rename", from, to);
	} else {
		rc = add(s, &list, "RNFR", from, NULL);
		if (!rc)
			rc = add(s, &list, "RNTO", to, NULL);
	}
	return change(s, rc, list);
}

int remote_session_remove(struct remote_session *s, const char *path)
{
	struct curl_slist *list = NULL;
	int rc = add(s, &list, s->address.scheme == REMOTE_SFTP ? "rm" : "DELE", path, NULL);

	return change(s, rc, list);
}
