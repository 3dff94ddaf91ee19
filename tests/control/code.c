/*
 * The bench control's own code tables: ISO 840 from its rule (track 8 makes the holes even), EIA
 * RS-244-A written out hole by hole, so that it shares no rule with the code under test.
 */
#include "code.h"

static uint8_t even(uint8_t c)
{
	uint8_t seven = c & 0x7f;
	unsigned ones = 0;

	for (unsigned track = 0; track < 7; track++)
		ones += seven >> track & 1;
	return ones & 1 ? seven | 0x80 : seven;
}

/* EIA: the holes of each character, tracks by their numbers. ER stands for %, EOB for the end. */
static const struct {
	char c;
	const char *holes;
} eia[] = {
    {'0', "6"},
    {'1', "1"},
    {'2', "2"},
    {'3', "125"},
    {'4', "3"},
    {'5', "135"},
    {'6', "235"},
    {'7', "123"},
    {'8', "4"},
    {'9', "145"},
    {'A', "167"},
    {'B', "267"},
    {'C', "12567"},
    {'D', "367"},
    {'E', "13567"},
    {'F', "23567"},
    {'G', "12367"},
    {'H', "467"},
    {'I', "14567"},
    {'J', "157"},
    {'K', "257"},
    {'L', "127"},
    {'M', "357"},
    {'N', "137"},
    {'O', "237"},
    {'P', "12357"},
    {'Q', "457"},
    {'R', "147"},
    {'S', "256"},
    {'T', "126"},
    {'U', "356"},
    {'V', "136"},
    {'W', "236"},
    {'X', "12356"},
    {'Y', "456"},
    {'Z', "146"},
    {' ', "5"},
    {'+', "567"},
    {'-', "7"},
    {'.', "12467"},
    {',', "12456"},
    {'/', "156"},
    {'(', "245"},
    {')', "247"},
    {'&', "234"},
    {'%', "124"},
    {'\t', "23456"},
    {'\b', "246"},
    {'\n', "8"},
    {CODE_DEL, "1234567"},
};

static const char *const shifts[] = {"34567", "24567"}; /* UC, LC */

static uint8_t punched(const char *holes)
{
	uint8_t byte = 0;

	for (; *holes; holes++)
		byte |= (uint8_t)(1 << (*holes - '1'));
	return byte;
}

static bool is_device(uint8_t c)
{
	return c >= CODE_DC1 && c <= CODE_DC4;
}

static uint8_t eia_send(uint8_t c)
{
	if (is_device(c))
		return even(c);
	for (size_t i = 0; i < sizeof(eia) / sizeof(*eia); i++)
		if ((uint8_t)eia[i].c == c)
			return punched(eia[i].holes);
	return CODE_NUL;
}

static bool eia_take(uint8_t byte, uint8_t *c)
{
	*c = byte & 0x7f;
	if (byte == CODE_NUL || (is_device(*c) && even(*c) == byte))
		return true;
	for (size_t i = 0; i < sizeof(eia) / sizeof(*eia); i++) {
		*c = (uint8_t)eia[i].c;
		if (punched(eia[i].holes) == byte)
			return true;
	}
	*c = CODE_DEL;
	for (size_t i = 0; i < sizeof(shifts) / sizeof(*shifts); i++)
		if (punched(shifts[i]) == byte)
			return true;
	*c = '?';
	return false;
}

uint8_t code_send(enum code code, uint8_t c)
{
	if (code == CODE_EIA)
		return eia_send(c);
	return code == CODE_ISO ? even(c) : c & 0x7f;
}

bool code_take(enum code code, uint8_t byte, uint8_t *c)
{
	if (code == CODE_EIA)
		return eia_take(byte, c);
	*c = byte & 0x7f;
	return code_send(code, byte) == byte;
}
