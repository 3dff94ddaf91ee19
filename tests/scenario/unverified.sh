#!/bin/sh
# Goal: a machine whose server is not verified (verify = no, or plain FTP) is told: as a warning at the start, in the
# event of the configuration, by the API and by `yoke machines`; one whose server is verified is not. No password, and
# nothing that stands where one was expected, shows anywhere.
. "$(dirname "$0")/lib.sh"
settings settle_ms 100
mkdir -p "$home/machines"
server() { # NAME LINE...
	name=$1
	shift
	{
		printf '[line]\nkind = remote\nmarker = HERE\nuser = cnc\npassword = file:%s/secret\n' "$scratch"
		for line; do echo "$line"; done
	} >"$home/machines/$name.conf"
}
echo sesame-77 >"$scratch/secret"
chmod 600 "$scratch/secret"
server OPEN 'address = sftp://192.0.2.1' 'verify = no'
server PLAIN 'address = ftp://192.0.2.1'
server GOOD 'address = ftps://192.0.2.1' 'root = /nc'
start
grep -q 'OPEN.conf:.*warning: channel upper: verify = no' "$log" || fail 'verify = no is not told at the start'
grep -q 'PLAIN.conf:.*warning: channel upper: ftp:// sends password and programs in clear text' "$log" ||
	fail 'clear text is not told at the start'
expect 'the configuration in the trail' '[{"machine":"OPEN","because":"verify = no"},{"machine":"PLAIN","because":"ftp://"}]' \
	"$(events kind=configured | jq -c '.detail | if type == "string" then fromjson else . end | .unverified')"
for m in OPEN:true PLAIN:true GOOD:null; do
	expect "unverified of ${m%:*}" "${m#*:}" "$(api "/v1/machines/${m%:*}" | jq .unverified)"
	expect "line of ${m%:*}" remote "$(api "/v1/machines/${m%:*}" | jq -r .line)"
done
said=$("$build/cli/yoke" --home "$home" machines 2>&1 || "$build/cli/yoke" machines --home "$home" 2>&1)
expect 'machines that are told as not verified' 2 "$(echo "$said" | grep -c 'its server is not verified')"
stop
start
expect_events 1 kind=configured
server OPEN 'address = sftp://192.0.2.1' "pin = SHA256:$(printf 'A%.0s' $(seq 43))"
server PLAIN 'address = ftps://192.0.2.1' 'root = /other'
stop
start
expect 'the new configuration' null \
	"$(events kind=configured | tail -n 1 | jq -c '.detail | if type == "string" then fromjson else . end | .unverified')"
sound
stop
if grep -rq sesame-77 "$home" "$log"; then fail 'the password is in the vault or in a message'; fi

# A configuration with a secret in it does not start, and does not repeat it.
sed -i 's/^password.*/password = sesame-77/' "$home/machines/GOOD.conf"
refuses_to_start
expect_in 'what is said' 'GOOD.conf:5: error: password: where it lies is needed' "$said"
if grep -q sesame-77 "$log"; then fail 'the secret is in a message'; fi
