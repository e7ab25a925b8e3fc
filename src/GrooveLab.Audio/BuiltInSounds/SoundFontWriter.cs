using System.Buffers.Binary;
using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>Writes a SoundFont 2.04 file (RIFF form <c>sfbk</c>, sections 4-7) with 16-bit samples.</summary>
/// <remarks>
/// Not a reader. It checks ranges and counts, but not the meaning of generator amounts. The comment chunk holds a SHA-256 of everything
/// after the <c>INFO</c> list, which shows whether a copy is damaged.
/// </remarks>
public static class SoundFontWriter
{
    private const int ZeroFramesBehindSample = 46;
    private const string ChecksumLabel = "SHA-256 of what follows: ";

    /// <summary>Writes the whole file.</summary>
    /// <param name="info">The texts of its <c>INFO</c> list.</param>
    /// <param name="presets">The presets in any order, with their instruments and samples.</param>
    /// <exception cref="ArgumentException">A name, range, loop or count that the format cannot hold.</exception>
    public static byte[] Write(SoundFontInfo info, IReadOnlyList<SoundFontPreset> presets)
    {
        ArgumentNullException.ThrowIfNull(info);
        ArgumentNullException.ThrowIfNull(presets);
        var sorted = presets.OrderBy(p => p.Bank).ThenBy(p => p.Program).ToArray();
        var instruments = Distinct(sorted.SelectMany(p => p.Zones).Select(z => z.Target));
        var samples = Distinct(instruments.Keys.SelectMany(i => i.Zones).Select(z => z.Target));

        var sampleData = List("sdta", Chunk("smpl", SampleFrames(samples.Keys)));
        var hydra = List("pdta", Presets(sorted, instruments), Instruments(instruments.Keys, samples), SampleHeaders(samples.Keys));
        var checksum = Checksum(sampleData, hydra);
        var header = List(
            "INFO",
            Chunk("ifil", [2, 0, 4, 0]),
            Chunk("isng", Text("EMU8000")),
            Chunk("INAM", Text(info.Name)),
            Chunk("IENG", Text(info.Engineer)),
            Chunk("ICMT", Text(ChecksumLabel + checksum)),
            Chunk("ISFT", Text(info.Software)));

        var size = 4 + header.Length + sampleData.Length + hydra.Length;
        var file = new byte[8 + size];
        Encoding.ASCII.GetBytes("RIFF", file);
        BinaryPrimitives.WriteUInt32LittleEndian(file.AsSpan(4), (uint)size);
        Encoding.ASCII.GetBytes("sfbk", file.AsSpan(8));
        header.CopyTo(file, 12);
        sampleData.CopyTo(file, 12 + header.Length);
        hydra.CopyTo(file, 12 + header.Length + sampleData.Length);
        return file;
    }

    /// <summary>Whether a file from this writer is undamaged: its sizes add up and its checksum matches. Never throws, whatever the bytes.</summary>
    /// <param name="file">All bytes of the file.</param>
    public static bool IsIntact(ReadOnlySpan<byte> file)
    {
        if (file.Length < 20 || !file[..4].SequenceEqual("RIFF"u8) || !file.Slice(8, 4).SequenceEqual("sfbk"u8)
            || !file.Slice(12, 4).SequenceEqual("LIST"u8)
            || BinaryPrimitives.ReadUInt32LittleEndian(file[4..]) != (uint)(file.Length - 8))
        {
            return false;
        }

        var headerEnd = 20L + BinaryPrimitives.ReadUInt32LittleEndian(file[16..]);
        if (headerEnd > file.Length)
        {
            return false;
        }

        var label = Encoding.ASCII.GetBytes(ChecksumLabel);
        var at = file[..(int)headerEnd].IndexOf(label);
        if (at < 0 || at + label.Length + 64 > headerEnd)
        {
            return false;
        }

        var told = file.Slice(at + label.Length, 64).ToArray();
        return string.Equals(
            Encoding.ASCII.GetString(told), Convert.ToHexStringLower(SHA256.HashData(file[(int)headerEnd..])), StringComparison.Ordinal);
    }

    private static string Checksum(byte[] sampleData, byte[] hydra)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        hash.AppendData(sampleData);
        hash.AppendData(hydra);
        return Convert.ToHexStringLower(hash.GetHashAndReset());
    }

    private static Dictionary<T, int> Distinct<T>(IEnumerable<T?> targets)
        where T : class
    {
        // A dictionary without removals enumerates in the order of insertion.
        var indexes = new Dictionary<T, int>(ReferenceEqualityComparer.Instance);
        foreach (var target in targets)
        {
            if (target is not null)
            {
                indexes.TryAdd(target, indexes.Count);
            }
        }

        return indexes;
    }

    private static byte[] SampleFrames(IEnumerable<SoundFontSample> samples)
    {
        var frames = samples.Sum(s => s.Frames.Length + ZeroFramesBehindSample);
        var data = new byte[frames * 2];
        var at = 0;
        foreach (var sample in samples)
        {
            foreach (var frame in sample.Frames)
            {
                BinaryPrimitives.WriteInt16LittleEndian(data.AsSpan(at), frame);
                at += 2;
            }

            at += 2 * ZeroFramesBehindSample;
        }

        return data;
    }

    private static byte[] Presets(SoundFontPreset[] presets, Dictionary<SoundFontInstrument, int> instruments)
    {
        using var headers = new MemoryStream();
        using var zones = new ZoneRecords();
        foreach (var preset in presets)
        {
            if (preset.Bank is < 0 or > 128 || preset.Program is < 0 or > 127)
            {
                throw new ArgumentException($"Preset '{preset.Name}': bank 0-128, program 0-127.", nameof(presets));
            }

            PutName(headers, preset.Name);
            Put(headers, (ushort)preset.Program, (ushort)preset.Bank, zones.Count, 0, 0, 0, 0, 0, 0);
            zones.Add(preset.Name, preset.Zones, SoundFontGenerator.Instrument, instruments);
        }

        PutName(headers, "EOP");
        Put(headers, 0, 0, zones.Count, 0, 0, 0, 0, 0, 0);
        return [.. Chunk("phdr", headers.ToArray()), .. zones.Chunks('p')];
    }

    private static byte[] Instruments(IEnumerable<SoundFontInstrument> instruments, Dictionary<SoundFontSample, int> samples)
    {
        using var headers = new MemoryStream();
        using var zones = new ZoneRecords();
        foreach (var instrument in instruments)
        {
            PutName(headers, instrument.Name);
            Put(headers, zones.Count);
            zones.Add(instrument.Name, instrument.Zones, SoundFontGenerator.SampleId, samples);
        }

        PutName(headers, "EOI");
        Put(headers, zones.Count);
        return [.. Chunk("inst", headers.ToArray()), .. zones.Chunks('i')];
    }

    private static byte[] SampleHeaders(IEnumerable<SoundFontSample> samples)
    {
        using var headers = new MemoryStream();
        uint start = 0;
        foreach (var sample in samples)
        {
            var length = sample.Frames.Length;
            if (sample.LoopStart < 0 || sample.LoopEnd < sample.LoopStart || sample.LoopEnd > length
                || sample.SampleRate is < 400 or > 50000 || sample.RootKey is < 0 or > 127 || sample.PitchCorrection is < -99 or > 99)
            {
                throw new ArgumentException($"Sample '{sample.Name}': loop, rate, key or correction out of range.", nameof(samples));
            }

            PutName(headers, sample.Name);
            Put32(headers, start, start + (uint)length, start + (uint)sample.LoopStart, start + (uint)sample.LoopEnd, (uint)sample.SampleRate);
            headers.WriteByte((byte)sample.RootKey);
            headers.WriteByte(unchecked((byte)(sbyte)sample.PitchCorrection));
            Put(headers, 0, 1);
            start += (uint)(length + ZeroFramesBehindSample);
        }

        PutName(headers, "EOS");
        headers.Write(new byte[26]);
        return Chunk("shdr", headers.ToArray());
    }

    private static byte[] List(string form, params byte[][] chunks) =>
        Chunk("LIST", [Encoding.ASCII.GetBytes(form), .. chunks]);

    private static byte[] Chunk(string id, params byte[][] parts)
    {
        var size = parts.Sum(p => p.Length);
        var chunk = new byte[8 + size + (size & 1)];
        Encoding.ASCII.GetBytes(id, chunk);
        BinaryPrimitives.WriteUInt32LittleEndian(chunk.AsSpan(4), (uint)size);
        var at = 8;
        foreach (var part in parts)
        {
            part.CopyTo(chunk, at);
            at += part.Length;
        }

        return chunk;
    }

    private static byte[] Text(string text)
    {
        if (text.Length > 255 || !Ascii.IsValid(text))
        {
            throw new ArgumentException($"'{text}': ASCII only, at most 255 characters.", nameof(text));
        }

        // One or two terminating zeros, whichever makes the length even (section 5).
        var bytes = new byte[(text.Length + 2) & ~1];
        Encoding.ASCII.GetBytes(text, bytes);
        return bytes;
    }

    private static void PutName(MemoryStream stream, string name)
    {
        if (name.Length > 20 || !Ascii.IsValid(name))
        {
            throw new ArgumentException($"'{name}': ASCII only, at most 20 characters.", nameof(name));
        }

        Span<byte> field = stackalloc byte[20];
        field.Clear();
        Encoding.ASCII.GetBytes(name, field);
        stream.Write(field);
    }

    private static void Put(MemoryStream stream, params ReadOnlySpan<ushort> words)
    {
        Span<byte> bytes = stackalloc byte[2];
        foreach (var word in words)
        {
            BinaryPrimitives.WriteUInt16LittleEndian(bytes, word);
            stream.Write(bytes);
        }
    }

    private static void Put32(MemoryStream stream, params ReadOnlySpan<uint> words)
    {
        Span<byte> bytes = stackalloc byte[4];
        foreach (var word in words)
        {
            BinaryPrimitives.WriteUInt32LittleEndian(bytes, word);
            stream.Write(bytes);
        }
    }

    private sealed class ZoneRecords : IDisposable
    {
        private readonly MemoryStream _bags = new();
        private readonly MemoryStream _generators = new();
        private readonly MemoryStream _modulators = new();

        public ushort Count => Index(_bags, 4);

        public void Add<T>(string owner, IReadOnlyList<SoundFontZone<T>> zones, SoundFontGenerator link, Dictionary<T, int> targets)
            where T : class
        {
            for (var i = 0; i < zones.Count; i++)
            {
                var zone = zones[i];
                if (zone.Target is null && i > 0)
                {
                    throw new ArgumentException($"'{owner}': a zone without a target must be the first.", nameof(zones));
                }

                Put(_bags, Index(_generators, 4), Index(_modulators, 10));
                PutRange(owner, SoundFontGenerator.KeyRange, zone.Keys);
                PutRange(owner, SoundFontGenerator.VelocityRange, zone.Velocities);
                foreach ((var generator, var amount) in zone.Generators)
                {
                    Put(_generators, (ushort)generator, unchecked((ushort)amount));
                }

                if (zone.Target is not null)
                {
                    Put(_generators, (ushort)link, (ushort)targets[zone.Target]);
                }

                foreach (var m in zone.Modulators)
                {
                    Put(_modulators, m.Source, (ushort)m.Destination, unchecked((ushort)m.Amount), m.AmountSource, m.Transform);
                }
            }
        }

        public byte[] Chunks(char prefix)
        {
            Put(_bags, Index(_generators, 4), Index(_modulators, 10));
            _modulators.Write(new byte[10]);
            _generators.Write(new byte[4]);
            return
            [
                .. Chunk(prefix + "bag", _bags.ToArray()),
                .. Chunk(prefix + "mod", _modulators.ToArray()),
                .. Chunk(prefix + "gen", _generators.ToArray()),
            ];
        }

        public void Dispose()
        {
            _bags.Dispose();
            _generators.Dispose();
            _modulators.Dispose();
        }

        private static ushort Index(MemoryStream records, int size)
        {
            var index = records.Length / size;
            return index <= ushort.MaxValue ? (ushort)index : throw new ArgumentException("More records than 16 bits can count.");
        }

        private void PutRange(string owner, SoundFontGenerator kind, (int Low, int High)? range)
        {
            if (range is not var (low, high))
            {
                return;
            }

            if (low < 0 || high > 127 || low > high)
            {
                throw new ArgumentException($"'{owner}': {kind} {low}-{high} is not within 0-127.", nameof(range));
            }

            Put(_generators, (ushort)kind, (ushort)(low | (high << 8)));
        }
    }
}
