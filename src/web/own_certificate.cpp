// SPDX-License-Identifier: Apache-2.0
#include "web/own_certificate.hpp"

#include "job/files.hpp"

#include <openssl/ec.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509v3.h>

#include <cstdio>
#include <memory>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::web {

namespace {

constexpr long ten_years = 60L * 60 * 24 * 3650;

template <auto Free>
struct Freed
{
    template <class T>
    void operator()(T* thing) const
    {
        Free(thing);
    }
};
using Key = std::unique_ptr<EVP_PKEY, Freed<EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, Freed<X509_free>>;

Error trouble(char const* what)
{
    return {Errc::environment, fmt::format("A certificate for the workbench could not be made ({}); give one "
                                           "with --tls-cert and --tls-key",
                                           what)};
}

bool add_extension(X509* certificate, int what, std::string const& value)
{
    X509V3_CTX context;
    X509V3_set_ctx_nodb(&context);
    X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
    X509_EXTENSION* const extension = X509V3_EXT_conf_nid(nullptr, &context, what, value.c_str());
    if (!extension) return false;
    bool const added = X509_add_ext(certificate, extension, -1) == 1;
    X509_EXTENSION_free(extension);
    return added;
}

std::string fingerprint_of(X509 const* certificate)
{
    unsigned char bytes[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    if (X509_digest(certificate, EVP_sha256(), bytes, &size) != 1) return {};
    std::string text;
    for (unsigned i = 0; i < size; ++i) text += fmt::format("{}{:02X}", i == 0 ? "" : ":", bytes[i]);
    return text;
}

struct Closed
{
    void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, Closed>;

Outcome write_key(std::string const& path, EVP_PKEY* key)
{
    int const handle = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, S_IRUSR | S_IWUSR);
    if (handle < 0) return trouble("its key file cannot be written");
    File const file(::fdopen(handle, "w"));
    if (!file || PEM_write_PrivateKey(file.get(), key, nullptr, nullptr, 0, nullptr, nullptr) != 1)
        return trouble("its key file cannot be written");
    return {};
}

} // namespace

Result<CertificateFiles> own_certificate(std::string const& folder, std::string const& address)
{
    CertificateFiles files{folder + "/workbench.pem", folder + "/workbench.key", {}};
    if (File const file{std::fopen(files.certificate.c_str(), "r")}) {
        Certificate const known(PEM_read_X509(file.get(), nullptr, nullptr, nullptr));
        if (known && X509_cmp_current_time(X509_get0_notAfter(known.get())) > 0 &&
            ::access(files.private_key.c_str(), R_OK) == 0) {
            files.fingerprint = fingerprint_of(known.get());
            return files;
        }
    }
    TRY(job::make_folder(folder));
    Key const key(EVP_EC_gen("P-256"));
    Certificate const certificate(X509_new());
    if (!key || !certificate) return trouble("no key");
    std::uint64_t serial = 0;
    if (RAND_bytes(reinterpret_cast<unsigned char*>(&serial), sizeof serial) != 1)
        return trouble("no randomness");
    X509_set_version(certificate.get(), 2);
    ASN1_INTEGER_set_uint64(X509_get_serialNumber(certificate.get()), serial >> 1);
    X509_gmtime_adj(X509_getm_notBefore(certificate.get()), -3600);
    X509_gmtime_adj(X509_getm_notAfter(certificate.get()), ten_years);
    X509_set_pubkey(certificate.get(), key.get());
    X509_NAME* const name = X509_get_subject_name(certificate.get());
    X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_UTF8,
                               reinterpret_cast<unsigned char const*>("guidepin workbench"), -1, -1, 0);
    X509_set_issuer_name(certificate.get(), name);
    std::string names = "DNS:localhost,IP:127.0.0.1";
    bool const is_address = address.find_first_not_of("0123456789.") == std::string::npos;
    if (is_address && address != "0.0.0.0" && address != "127.0.0.1") names += ",IP:" + address;
    if (!add_extension(certificate.get(), NID_basic_constraints, "critical,CA:FALSE") ||
        !add_extension(certificate.get(), NID_subject_alt_name, names) ||
        X509_sign(certificate.get(), key.get(), EVP_sha256()) == 0)
        return trouble("it could not be signed");
    TRY(write_key(files.private_key, key.get()));
    File const file(std::fopen(files.certificate.c_str(), "w"));
    if (!file || PEM_write_X509(file.get(), certificate.get()) != 1)
        return trouble("its file cannot be written");
    files.fingerprint = fingerprint_of(certificate.get());
    return files;
}

} // namespace guidepin::web
