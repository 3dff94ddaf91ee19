/*
 * Goal: our sums are SHA-256, however the bytes are cut. The outside: the messages of FIPS 180-4's
 * examples and of CAVP's SHA256ShortMsg, padding edges computed with another implementation, and
 * sha256sum (coreutils) on files.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "sha256.h"

static void check(const void *bytes, size_t n, const char *expected)
{
	uint8_t sum[YOKE_SHA_SIZE];
	char hex[YOKE_SHA_HEX + 1];
	struct sha256 *s = sha256_new();

	assert_int_equal(sha256_of(bytes, n, sum), 0);
	sha256_hex(sum, hex);
	assert_string_equal(hex, expected);
	assert_non_null(s);
	for (size_t i = 0; i < n; i++)
		assert_int_equal(sha256_add(s, (const char *)bytes + i, 1), 0);
	memset(sum, 0, sizeof(sum));
	assert_int_equal(sha256_end(s, sum), 0);
	sha256_hex(sum, hex);
	assert_string_equal(hex, expected);
	sha256_free(s);
}

static void test_fips(void **state)
{
	static const char long_message[] =
	    "abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmn"
	    "hijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu";

	check("", 0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
	check("abc", 3, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
	check("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 56,
	    "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
	check(long_message, sizeof(long_message) - 1,
	    "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1");
}

static void test_million(void **state)
{
	char *a = malloc(1000000);

	assert_non_null(a);
	memset(a, 'a', 1000000);
	check(a, 1000000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
	free(a);
}

static void test_cavp(void **state)
{
	check("\xd3", 1, "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1");
	check("\x11\xaf", 2, "5ca7133fa735326081558ac312c620eeca9970d1e70a4b95533d956f072d1f98");
	check(
	    "\xb4\x19\x0e", 3, "dff2e73091f6c05e528896c4c831b9448653dc2ff043528f6769437bc7b975c2");
}

static void test_padding(void **state)
{
	static const struct {
		size_t n;
		const char *sum;
	} edge[] = {
	    {55, "9f4390f8d30c2dd92ec9f095b65e2b9ae9b0a925a5258e241c9f1e910f734318"},
	    {56, "b35439a4ac6f0948b6d6f9e3c6af0f5f590ce20f1bde7090ef7970686ec6738a"},
	    {63, "7d3e74a05d7db15bce4ad9ec0658ea98e3f06eeecf16b4c6fff2da457ddc2f34"},
	    {64, "ffe054fe7ae0cb6dc65c3af9b61d5209f439851db43d0ba5997337df154668eb"},
	    {65, "635361c48bb9eab14198e76ea8ab7f1a41685d6ad62aa9146d301d4f17eb0ae0"},
	};
	char a[65];

	memset(a, 'a', sizeof(a));
	for (size_t i = 0; i < sizeof(edge) / sizeof(edge[0]); i++)
		check(a, edge[i].n, edge[i].sum);
}

/* The tool of the system sums a file of every length that matters; we must agree. */
static void test_sha256sum(void **state)
{
	char path[] = "/tmp/yoke-sum-XXXXXX", command[128], theirs[YOKE_SHA_HEX + 1],
	     ours[YOKE_SHA_HEX + 1];
	int fd = mkstemp(path);
	FILE *f = fdopen(fd, "wb"), *tool;
	uint8_t bytes[70001], sum[YOKE_SHA_SIZE];
	uint32_t x = 2463534242u;

	assert_non_null(f);
	for (size_t i = 0; i < sizeof(bytes); i++) {
		x = x * 1664525u + 1013904223u;
		bytes[i] = (uint8_t)(x >> 24);
	}
	assert_int_equal(fwrite(bytes, 1, sizeof(bytes), f), sizeof(bytes));
	assert_int_equal(fclose(f), 0);
	snprintf(command, sizeof(command), "sha256sum %s", path);
	tool = popen(command, "r");
	assert_non_null(tool);
	assert_int_equal(fscanf(tool, "%64s", theirs), 1);
	assert_int_equal(pclose(tool), 0);
	remove(path);
	assert_int_equal(sha256_of(bytes, sizeof(bytes), sum), 0);
	sha256_hex(sum, ours);
	assert_string_equal(ours, theirs);
}

static void test_again(void **state)
{
	struct sha256 *s = sha256_new();
	uint8_t first[YOKE_SHA_SIZE], second[YOKE_SHA_SIZE];

	assert_non_null(s);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(sha256_add(s, "abc", 3), 0);
		assert_int_equal(sha256_end(s, i ? second : first), 0);
	}
	assert_memory_equal(first, second, YOKE_SHA_SIZE);
	sha256_free(s);
	sha256_free(NULL);
}

static void test_parse(void **state)
{
	const char *hex = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
	uint8_t sum[YOKE_SHA_SIZE] = {0}, untouched[YOKE_SHA_SIZE] = {0};
	char back[YOKE_SHA_HEX + 1], wrong[80];

	assert_true(sha256_parse(hex, sum));
	sha256_hex(sum, back);
	assert_string_equal(back, hex);
	assert_true(
	    sha256_parse("BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD", sum));
	sha256_hex(sum, back);
	assert_string_equal(back, hex);
	memset(sum, 0, sizeof(sum));
	assert_false(sha256_parse("", sum));
	snprintf(wrong, sizeof(wrong), "%s0", hex);
	assert_false(sha256_parse(wrong, sum));
	snprintf(wrong, sizeof(wrong), "%.63s", hex);
	assert_false(sha256_parse(wrong, sum));
	wrong[0] = 'g';
	assert_false(sha256_parse(wrong, sum));
	assert_memory_equal(sum, untouched, YOKE_SHA_SIZE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_fips),
	    cmocka_unit_test(test_million),
	    cmocka_unit_test(test_cavp),
	    cmocka_unit_test(test_padding),
	    cmocka_unit_test(test_sha256sum),
	    cmocka_unit_test(test_again),
	    cmocka_unit_test(test_parse),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
