using NVorbis;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// Decodes the samples of a Vorbis-compressed bank (sf3), each on first use, and keeps them. For the loading thread.
/// </summary>
/// <remarks>
/// The sample headers of such a bank give start and end in bytes of the sample chunk, and the loop in points from the sample's own start.
/// This is common practice of the programs that write these banks; the SoundFont specification does not cover them.
/// </remarks>
internal sealed unsafe class VorbisSamples(BankBytes bytes, RiffLayout.Chunk smpl, string bankName)
{
    /// <summary>The most points that one bank may decode to: 128 MB.</summary>
    public const int MaxPoints = 64 << 20;

    // Silence around a sample, so that reads may go a little past its ends.
    private const int Margin = 16;
    private readonly Dictionary<(uint Start, uint End), SamplePool> _decoded = [];
    private long _total;

    /// <summary>The points of a sample, decoded now if necessary.</summary>
    /// <param name="start">First byte in the sample chunk.</param>
    /// <param name="end">The byte after the last.</param>
    /// <param name="name">The sample's name in messages.</param>
    /// <exception cref="SoundFontException">The data are not a Vorbis stream, or exceed <see cref="MaxPoints"/>.</exception>
    public SamplePool Decode(uint start, uint end, string name)
    {
        if (_decoded.TryGetValue((start, end), out var known))
            return known;
        var points = DecodePoints(start, end, name);
        _total += points.Length;
        var pool = new SamplePool(BankBytes.Copy(System.Runtime.InteropServices.MemoryMarshal.AsBytes(points)), 0, points.Length - Margin);
        _decoded.Add((start, end), pool);
        return pool;
    }

    private ReadOnlySpan<short> DecodePoints(uint start, uint end, string name)
    {
        var place = $"{bankName}: sample {name}";
        var points = new List<short>();
        try
        {
            using var stream = new UnmanagedMemoryStream(bytes.Address(smpl.Offset + start), end - start);
            using var reader = new VorbisReader(stream, closeOnDispose: false);
            var channels = reader.Channels;
            if (channels < 1)
                throw new SoundFontException(place, "its Vorbis stream has no channels");
            var buffer = new float[4096 * channels];
            int count;
            while ((count = reader.ReadSamples(buffer, 0, buffer.Length)) > 0)
            {
                for (var i = 0; i + channels <= count; i += channels)
                    points.Add((short)Math.Clamp(MathF.Round(buffer[i] * 32768), short.MinValue, short.MaxValue));
                if (_total + points.Count > MaxPoints)
                    throw new SoundFontException(place, $"the bank's samples decode to more than {MaxPoints} points");
            }
        }
        catch (SoundFontException)
        {
            throw;
        }
#pragma warning disable CA1031 // The decoder throws many kinds of exceptions; a bank's fault must be one kind, with its place.
        catch (Exception e)
#pragma warning restore CA1031
        {
            throw new SoundFontException(place, $"its Vorbis stream cannot be decoded ({e.Message})", e);
        }
        finally
        {
            bytes.KeepAlive();
        }
        if (points.Count == 0)
            throw new SoundFontException(place, "its Vorbis stream holds no sound");
        points.AddRange(new short[Margin]);
        return System.Runtime.InteropServices.CollectionsMarshal.AsSpan(points);
    }
}
