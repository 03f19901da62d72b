#!/bin/sh
# Certificates for scheduler, workers and dispatcher, signed by an authority that is made for nothing else:
#   docker/certificates.sh FOLDER [DAYS]
# Whoever has a certificate of this authority may have anything computed, and nobody else may so much as connect. So keep
# ca.key away from the machines that compute, and give each of them its own pair only. Called again, it keeps the
# authority and makes new certificates: for that they end after DAYS (90).
set -eu

folder=${1:?name the folder the certificates go into}
days=${2:-90}
command -v openssl > /dev/null || { echo "openssl is not installed" >&2; exit 1; }

# Others on this machine cannot enter the folder; a container that is given a file of it can read that file.
umask 022
mkdir -p "$folder"
chmod 700 "$folder"
cd "$folder"

if [ ! -e ca.key ]; then
  (umask 077 && openssl ecparam -name prime256v1 -genkey -noout -out ca.key)
  openssl req -new -x509 -sha256 -key ca.key -out ca.crt -days 3650 -subj "/CN=Leadline workers" \
    -addext "keyUsage=critical,keyCertSign,cRLSign"
fi

for role in scheduler worker dispatcher; do
  openssl ecparam -name prime256v1 -genkey -noout -out "$role.key"
  # Each of them is called, and calls.
  printf '%s\n' "basicConstraints=critical,CA:FALSE" "keyUsage=critical,digitalSignature" \
    "extendedKeyUsage=serverAuth,clientAuth" "subjectAltName=DNS:$role" > "$role.extensions"
  openssl req -new -sha256 -key "$role.key" -subj "/CN=$role" \
    | openssl x509 -req -sha256 -CA ca.crt -CAkey ca.key -CAcreateserial -days "$days" \
      -extfile "$role.extensions" -out "$role.crt" 2> /dev/null
  rm "$role.extensions"
  chmod 644 "$role.key"
done
rm -f ca.srl
echo "Certificates for scheduler, worker and dispatcher are in $folder, good for $days days." >&2
