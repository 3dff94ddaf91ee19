/*
 * Goal: a word that a control could not read as one is refused by its reason; and of what a control
 * punched the words are taken off, wherever a % stands before them, and nothing else is.
 */
#include "wire_test.h"

#include <string.h>
#include "channel_word.h"

static void fault(enum line_code code, const char *word, const char *why)
{
	struct line_serial s = {.code = code, .framing = LINE_8N2};
	const char *said;

	strcpy(s.channel_word, word);
	said = channel_word_fault(&s);
	if (!why && said)
		fail_msg("'%s': %s", word, said);
	if (why && (!said || !strstr(said, why)))
		fail_msg("'%s': expected %s, it is: %s", word, why, said ? said : "good");
}

static void words_that_can_be(void **state)
{
	fault(LINE_CODE_ISO, "", NULL);
	fault(LINE_CODE_ISO, "CH1", NULL);
	fault(LINE_CODE_ISO, "$2", NULL);
	fault(LINE_CODE_ASCII, "channel 1 (upper)", NULL);
	fault(LINE_CODE_EIA, "CH1", NULL);
	fault(LINE_CODE_ISO, "OP 1", NULL);
	fault(LINE_CODE_ISO, "1234567890123456789012345678901234567890", NULL);
	fault(LINE_CODE_ISO, "O1", "program number");
	fault(LINE_CODE_ISO, ": 4417 UPPER", "program number");
	fault(LINE_CODE_ISO, "50%", "%");
	fault(LINE_CODE_ISO, "CH\t1", "not printable");
	fault(LINE_CODE_ISO, "CH\xC2\xB0", "not printable");
	fault(LINE_CODE_ISO, " CH1", "blank");
	fault(LINE_CODE_ISO, "CH1 ", "blank");
	fault(LINE_CODE_EIA, "ch1", "EIA");
	fault(LINE_CODE_EIA, "$1", "EIA");
}

static const char *const words[] = {"CH1", "", "CH2"};

static void becomes(const char *came, const char *text, size_t first, size_t second)
{
	struct channel_word w;

	assert_int_equal(channel_word_read(&w, (const uint8_t *)came, strlen(came), words, 3), 0);
	assert_int_equal(w.size, strlen(text));
	assert_memory_equal(w.text, text, w.size);
	assert_true(w.first == first);
	assert_true(w.second == second);
	channel_word_free(&w);
}

static void taken_off(void **state)
{
	enum { UPPER = 0, LOWER = 2 };

	becomes("%\nCH1\nO1\nM30\n%\n", "%\nO1\nM30\n%\n", UPPER, CHANNEL_WORD_NONE);
	becomes("%(TAPE)\nCH2\nO1\n%\n", "%(TAPE)\nO1\n%\n", LOWER, CHANNEL_WORD_NONE);
	/* With each program of a stream, or with the first. */
	becomes("%\nCH1\nO1\n%\n%\nCH1\nO2\n%\n", "%\nO1\n%\n%\nO2\n%\n", UPPER, CHANNEL_WORD_NONE);
	becomes("%\nCH1\nO1\n%\nCH2\nO2\n%\n", "%\nO1\n%\nO2\n%\n", UPPER, LOWER);
	becomes("%\nCH2\nO1\n%\n%\nO2\n%\n%\nCH1\nO3\n%\n", "%\nO1\n%\n%\nO2\n%\n%\nO3\n%\n", LOWER,
	    UPPER);
	/* Not behind a %, not the whole block, no word at all, an empty block. */
	becomes("%\nO1\nCH1\n%\n", "%\nO1\nCH1\n%\n", CHANNEL_WORD_NONE, CHANNEL_WORD_NONE);
	becomes("%\nCH12\n CH1\n%\n", "%\nCH12\n CH1\n%\n", CHANNEL_WORD_NONE, CHANNEL_WORD_NONE);
	becomes("%\n\nCH1\n%\n", "%\n\nCH1\n%\n", CHANNEL_WORD_NONE, CHANNEL_WORD_NONE);
	becomes("CH1\nO1\n%\n", "CH1\nO1\n%\n", CHANNEL_WORD_NONE, CHANNEL_WORD_NONE);
	/* Once behind each %; a second one is a block of the program. */
	becomes("%\nCH1\nCH1\n%\n", "%\nCH1\n%\n", UPPER, CHANNEL_WORD_NONE);
	becomes("%\nCH1", "%\n", UPPER, CHANNEL_WORD_NONE);
	becomes("", "", CHANNEL_WORD_NONE, CHANNEL_WORD_NONE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(words_that_can_be),
	    cmocka_unit_test(taken_off),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
