// SPDX-License-Identifier: Apache-2.0
#include "web/own_certificate.hpp"

#include "base/text.hpp"
#include "web/own_addresses.hpp"
#include "web/private_file.hpp"

#include <openssl/ec.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509v3.h>

#include <algorithm>
#include <cstdio>
#include <cstring>
#include <ctime>
#include <memory>
#include <optional>

#include <arpa/inet.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

namespace guidepin::web {

namespace {

constexpr std::int64_t second_ms = 1000, day_ms = 24 * 3600 * second_ms;
constexpr std::size_t names_at_most = 32;
constexpr std::size_t changes_at_most = 20;

template <auto free_it>
struct Freed
{
    template <class T>
    void operator()(T* thing) const
    {
        free_it(thing);
    }
};
using Key = std::unique_ptr<EVP_PKEY, Freed<EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, Freed<X509_free>>;
using Bytes = std::unique_ptr<BIO, Freed<BIO_free_all>>;
using Names = std::unique_ptr<GENERAL_NAMES, Freed<GENERAL_NAMES_free>>;

Error trouble(char const* what)
{
    return {Errc::environment, fmt::format("A certificate for the workbench could not be made ({}); give one "
                                           "with --tls-cert and --tls-key",
                                           what)};
}

bool is_address(std::string const& name)
{
    unsigned char bytes[sizeof(in6_addr)];
    return ::inet_pton(AF_INET, name.c_str(), bytes) == 1 || ::inet_pton(AF_INET6, name.c_str(), bytes) == 1;
}

bool is_good_for(X509* certificate, std::string const& name)
{
    if (is_address(name)) return X509_check_ip_asc(certificate, name.c_str(), 0) == 1;
    return X509_check_host(certificate, name.data(), name.size(), 0, nullptr) == 1;
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

std::int64_t ms_of(ASN1_TIME const* time)
{
    std::tm parts{};
    if (ASN1_TIME_to_tm(time, &parts) != 1) return 0;
    return static_cast<std::int64_t>(::timegm(&parts)) * second_ms;
}

std::string day_of(std::int64_t at_ms)
{
    std::time_t const seconds = at_ms / second_ms;
    std::tm parts{};
    ::gmtime_r(&seconds, &parts);
    return fmt::format("{:04}-{:02}-{:02}", parts.tm_year + 1900, parts.tm_mon + 1, parts.tm_mday);
}

/// Certificate and key as they are kept; what is wrong with them in words.
struct Kept
{
    Certificate certificate;
    Key key;
    std::string wrong; ///< "its key does not belong to it"
};

Kept read_kept(std::string const& path)
{
    Kept kept;
    auto const text = read_private_file(path);
    if (!text) {
        if (text.error().code == Errc::refused) kept.wrong = "its file was not its owner's alone";
        // A certificate that others may read is still one that devices know.
        if (std::unique_ptr<std::FILE, int (*)(std::FILE*)> const file{std::fopen(path.c_str(), "r"),
                                                                       &std::fclose};
            file)
            kept.certificate.reset(PEM_read_X509(file.get(), nullptr, nullptr, nullptr));
        return kept;
    }
    Bytes const bytes(BIO_new_mem_buf(text->data(), static_cast<int>(text->size())));
    kept.certificate.reset(PEM_read_bio_X509(bytes.get(), nullptr, nullptr, nullptr));
    Bytes const again(BIO_new_mem_buf(text->data(), static_cast<int>(text->size())));
    kept.key.reset(PEM_read_bio_PrivateKey(again.get(), nullptr, nullptr, nullptr));
    if (!kept.certificate)
        kept.wrong = "it could not be read";
    else if (!kept.key || X509_check_private_key(kept.certificate.get(), kept.key.get()) != 1)
        kept.wrong = "its key was not beside it";
    return kept;
}

std::string why(Kept const& kept, std::span<std::string const> names, std::int64_t now_ms)
{
    if (!kept.wrong.empty()) return kept.wrong;
    if (!kept.certificate || !kept.key) return "there was none";
    X509* const certificate = kept.certificate.get();
    std::int64_t const begins = ms_of(X509_get0_notBefore(certificate));
    std::int64_t const ends = ms_of(X509_get0_notAfter(certificate));
    if (ends <= now_ms) return fmt::format("it ended on {}", day_of(ends));
    if (begins > now_ms)
        return fmt::format("it begins only on {}: the clock was wrong then or is now", day_of(begins));
    if (ends - begins > certificate_days * day_ms)
        return fmt::format("it was made for longer than the {} days that browsers take", certificate_days);
    if (ends - now_ms < renewed_days_before * day_ms)
        return fmt::format("it would have ended on {}", day_of(ends));
    for (std::string const& name : names) {
        if ((is_address(name) || is_host_name(name)) && !is_good_for(certificate, name))
            return fmt::format("{} was not in it", name);
    }
    return {};
}

/// "IP:192.0.2.7" of each name that it has to be good for, then of those that the old one had.
std::string alternative_names(std::span<std::string const> names, X509* old)
{
    std::vector<std::string> list = {"DNS:localhost", "IP:127.0.0.1", "IP:::1"};
    auto const add = [&](std::string const& kind, std::string const& name) {
        std::string const entry = kind + name;
        if (list.size() < names_at_most && std::find(list.begin(), list.end(), entry) == list.end())
            list.push_back(entry);
    };
    for (std::string const& name : names) {
        if (is_address(name))
            add("IP:", name);
        else if (is_host_name(name))
            add("DNS:", name);
    }
    Names const known(
        old ? static_cast<GENERAL_NAMES*>(X509_get_ext_d2i(old, NID_subject_alt_name, nullptr, nullptr))
            : nullptr);
    for (int i = 0; known && i < sk_GENERAL_NAME_num(known.get()); ++i) {
        GENERAL_NAME const* const one = sk_GENERAL_NAME_value(known.get(), i);
        if (one->type != GEN_IPADD) continue;
        char text[INET6_ADDRSTRLEN] = {};
        int const family = one->d.iPAddress->length == 4 ? AF_INET : AF_INET6;
        if (::inet_ntop(family, one->d.iPAddress->data, text, sizeof text)) add("IP:", text);
    }
    return joined(list, ",");
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

Result<Certificate> made(EVP_PKEY* key, std::string const& names, std::int64_t now_ms)
{
    Certificate certificate(X509_new());
    if (!key || !certificate) return trouble("no key");
    std::uint64_t serial = 0;
    if (RAND_bytes(reinterpret_cast<unsigned char*>(&serial), sizeof serial) != 1)
        return trouble("no randomness");
    X509_set_version(certificate.get(), 2);
    ASN1_INTEGER_set_uint64(X509_get_serialNumber(certificate.get()), serial >> 1);
    // An hour back, for devices whose clock is behind; the whole span stays under the limit of browsers.
    std::time_t now = now_ms / second_ms;
    X509_time_adj_ex(X509_getm_notBefore(certificate.get()), 0, -3600, &now);
    X509_time_adj_ex(X509_getm_notAfter(certificate.get()), certificate_days - 1, 0, &now);
    X509_set_pubkey(certificate.get(), key);
    X509_NAME* const name = X509_get_subject_name(certificate.get());
    X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_UTF8,
                               reinterpret_cast<unsigned char const*>("guidepin workbench"), -1, -1, 0);
    X509_set_issuer_name(certificate.get(), name);
    if (!add_extension(certificate.get(), NID_basic_constraints, "critical,CA:FALSE") ||
        !add_extension(certificate.get(), NID_ext_key_usage, "serverAuth") ||
        !add_extension(certificate.get(), NID_subject_alt_name, names) ||
        X509_sign(certificate.get(), key, EVP_sha256()) == 0)
        return trouble("it could not be signed");
    return certificate;
}

Outcome keep(std::string const& path, X509* certificate, EVP_PKEY* key)
{
    Bytes const bytes(BIO_new(BIO_s_secmem()));
    if (!bytes || PEM_write_bio_X509(bytes.get(), certificate) != 1 ||
        PEM_write_bio_PrivateKey(bytes.get(), key, nullptr, nullptr, 0, nullptr, nullptr) != 1)
        return trouble("it could not be written");
    char* text = nullptr;
    long const size = BIO_get_mem_data(bytes.get(), &text);
    return write_private_file(path, {text, static_cast<std::size_t>(size)});
}

std::string changes_path(std::string const& folder)
{
    return folder + "/workbench-certificates.json";
}

std::vector<CertificateChange> read_changes(std::string const& folder)
{
    std::vector<CertificateChange> list;
    auto const text = read_private_file(changes_path(folder));
    if (!text) return list;
    // A file that somebody changed by hand costs the memory of old changes, nothing else.
    auto const parsed = nlohmann::json::parse(*text, nullptr, false);
    if (!parsed.is_array()) return list;
    for (auto const& one : parsed) {
        if (!one.is_object()) continue;
        auto const text_of = [&](char const* name) {
            auto const found = one.find(name);
            return found != one.end() && found->is_string() ? found->get<std::string>() : std::string{};
        };
        auto const at = one.find("at_ms");
        list.push_back({at != one.end() && at->is_number_integer() ? at->get<std::int64_t>() : 0,
                        text_of("why"), text_of("before"), text_of("after")});
    }
    return list;
}

Outcome write_changes(std::string const& folder, std::vector<CertificateChange> const& changes)
{
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (CertificateChange const& one : changes)
        list.push_back(
            {{"at_ms", one.at_ms}, {"why", one.why}, {"before", one.before}, {"after", one.after}});
    return write_private_file(changes_path(folder), list.dump(1) + "\n");
}

} // namespace

std::string why_renewed(std::string const& path, std::span<std::string const> names, std::int64_t now_ms)
{
    return why(read_kept(path), names, now_ms);
}

Result<OwnCertificate> own_certificate(std::string const& folder, std::span<std::string const> names,
                                       std::int64_t now_ms)
{
    OwnCertificate own;
    own.path = folder + "/workbench.pem";
    own.changes = read_changes(folder);
    Kept const kept = read_kept(own.path);
    std::string const reason = why(kept, names, now_ms);
    if (reason.empty()) {
        own.fingerprint = fingerprint_of(kept.certificate.get());
        own.ends_ms = ms_of(X509_get0_notAfter(kept.certificate.get()));
        return own;
    }
    TRY(make_private_folder(folder));
    Key const key(EVP_EC_gen("P-256"));
    TRY_ASSIGN(auto const certificate,
               made(key.get(), alternative_names(names, kept.certificate.get()), now_ms));
    TRY(keep(own.path, certificate.get(), key.get()));
    // Earlier versions kept the key in a file of its own; it opens nothing any more.
    ::unlink((folder + "/workbench.key").c_str());
    own.fingerprint = fingerprint_of(certificate.get());
    own.ends_ms = ms_of(X509_get0_notAfter(certificate.get()));
    bool const first = !kept.certificate && kept.wrong.empty();
    if (first) return own;
    own.renewed = true;
    own.changes.push_back(
        {now_ms, reason, kept.certificate ? fingerprint_of(kept.certificate.get()) : "", own.fingerprint});
    if (own.changes.size() > changes_at_most) own.changes.erase(own.changes.begin());
    TRY(write_changes(folder, own.changes));
    return own;
}

Result<std::string> certificate_fingerprint(std::string const& path)
{
    std::unique_ptr<std::FILE, int (*)(std::FILE*)> const file{std::fopen(path.c_str(), "r"), &std::fclose};
    Certificate const certificate(file ? PEM_read_X509(file.get(), nullptr, nullptr, nullptr) : nullptr);
    if (!certificate) return Error{Errc::invalid_input, fmt::format("{} is no certificate (PEM)", path)};
    return fingerprint_of(certificate.get());
}

std::vector<std::string> fingerprint_lines(std::string_view fingerprint)
{
    std::string digits;
    for (char const letter : fingerprint) {
        if (letter != ':') digits += letter;
    }
    std::vector<std::string> lines;
    for (std::size_t i = 0; i < digits.size(); i += 4) {
        if (i % 16 == 0)
            lines.emplace_back();
        else
            lines.back() += ' ';
        lines.back() += digits.substr(i, 4);
    }
    return lines;
}

} // namespace guidepin::web
