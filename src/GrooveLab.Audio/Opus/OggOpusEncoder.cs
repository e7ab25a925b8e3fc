using System.Buffers.Binary;
using Concentus;
using Concentus.Enums;
using GrooveLab.Audio.Vorbis;

namespace GrooveLab.Audio.Opus;

/// <summary>
/// Encodes sound as an Ogg Opus stream, in bounded memory. Source: RFC 7845. The codec is the library Concentus, in managed code only. Equal
/// sound gives equal bytes.
/// </summary>
/// <remarks>
/// A decoder gets exactly as many frames at 48 kHz as the sound lasts: the encoder's delay is the pre-skip, and the position of the last page
/// cuts the last packet. Sound at other rates is resampled to 48 kHz, and a part of a frame at its end becomes a whole one.
/// </remarks>
internal sealed class OggOpusEncoder : IDisposable
{
    /// <summary>The rate of the codec, in Hz.</summary>
    public const int Rate = 48_000;

    /// <summary>The most channels of a stream without a table of channels.</summary>
    public const int MostChannels = 2;

    // Transparent for nearly all music in stereo: from memory, no source.
    private const int BitsPerSecondOfChannel = 64_000;

    // 20 ms, the usual length.
    private const int PacketFrames = 960;

    // RFC 7845, section 3: a page should not last longer than a second.
    private const int PacketsOfPage = Rate / PacketFrames;

    // Section 5.1: the largest packet of one frame.
    private const int MostPacketBytes = 1275;

    private const int BestComplexity = 10;
    private const int BestResampling = 10;
    private const int PieceFrames = 1024;

    private readonly OggPageWriter _pages;
    private readonly IOpusEncoder _encoder;
    private readonly IResampler? _resampler;
    private readonly int _sampleRate;
    private readonly int _channels;
    private readonly float[] _packet;
    private readonly byte[] _coded = new byte[MostPacketBytes];
    private readonly float[] _resampled;
    private int _filled;
    private int _packetsOnPage;
    private long _packets;
    private long _taken;
    private long _made;

    static OggOpusEncoder() => OpusCodecFactory.AttemptToUseNativeLibrary = false;

    /// <summary>Starts a stream and writes its headers.</summary>
    /// <param name="output">Receives the stream; it is never rewound.</param>
    /// <param name="sampleRate">Frames a second of the sound, in Hz.</param>
    /// <param name="channels">Samples a frame, 1 or 2.</param>
    /// <param name="comments">Titles and the like.</param>
    /// <param name="expectedFrames">The number of frames, if known; it only makes the number of the stream more unlike that of others.</param>
    public OggOpusEncoder(Stream output, int sampleRate, int channels, CommentHeader comments, long expectedFrames)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sampleRate);
        ArgumentOutOfRangeException.ThrowIfLessThan(channels, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(channels, MostChannels);
        (_sampleRate, _channels) = (sampleRate, channels);
        _packet = new float[PacketFrames * channels];
        _resampled = new float[(((long)PieceFrames * Rate / sampleRate) + 16) * channels];
        _encoder = OpusCodecFactory.CreateEncoder(Rate, channels, OpusApplication.OPUS_APPLICATION_AUDIO);
        _encoder.Bitrate = BitsPerSecondOfChannel * channels;
        _encoder.Complexity = BestComplexity;
        _encoder.SignalType = OpusSignal.OPUS_SIGNAL_MUSIC;
        _encoder.UseVBR = true;
        _encoder.UseConstrainedVBR = false;
        if (sampleRate != Rate)
        {
            _resampler = ResamplerFactory.CreateResampler(channels, sampleRate, Rate, BestResampling);
            _resampler.SkipZeroes();
        }

        var tags = (byte[])[.. "OpusTags"u8, .. comments.ToBytes()];
        _pages = new OggPageWriter(output, Serial(tags, expectedFrames));
        _pages.Add(IdHeader(), 0);
        _pages.EndPage(isLast: false);
        _pages.Add(tags, 0);
        _pages.EndPage(isLast: false);
    }

    private int PreSkip => _encoder.Lookahead;

    /// <summary>Appends whole frames, interleaved, full scale at 1; what is beyond full scale is clipped.</summary>
    public void Write(ReadOnlySpan<float> interleaved)
    {
        _taken += interleaved.Length / _channels;
        if (_resampler is null)
        {
            Encode(interleaved);
            return;
        }

        Resample(interleaved, long.MaxValue);
    }

    /// <summary>Writes the rest of the sound and the last page.</summary>
    public void Finish()
    {
        var frames = ((_taken * Rate) + _sampleRate - 1) / _sampleRate;
        var silence = new float[PieceFrames * _channels];
        while (_made < frames)
        {
            Resample(silence, frames);
        }

        // Silence pushes the last frames through the encoder's delay. A stream without sound has one packet too.
        var end = PreSkip + frames;
        while ((_packets * PacketFrames) + _filled < end || _packets == 0 || _filled > 0)
        {
            var missing = (PacketFrames - _filled) * _channels;
            Encode(silence.AsSpan(0, Math.Min(missing, silence.Length)), end);
        }

        _pages.EndPage(isLast: true);
    }

    /// <summary>Releases the codec.</summary>
    public void Dispose()
    {
        _encoder.Dispose();
        _resampler?.Dispose();
    }

    // RFC 3533, section 4, wants different numbers for streams of one file; a number from chance would make equal sounds different files.
    private uint Serial(byte[] tags, long expectedFrames)
    {
        Span<byte> shape = stackalloc byte[16];
        BinaryPrimitives.WriteInt64LittleEndian(shape, expectedFrames);
        BinaryPrimitives.WriteInt32LittleEndian(shape[8..], _sampleRate);
        BinaryPrimitives.WriteInt32LittleEndian(shape[12..], _channels);
        return OggPageWriter.Checksum(OggPageWriter.Checksum(0, tags), shape);
    }

    // Section 5.1.
    private byte[] IdHeader()
    {
        var header = new byte[19];
        "OpusHead"u8.CopyTo(header);
        header[8] = 1;
        header[9] = (byte)_channels;
        BinaryPrimitives.WriteUInt16LittleEndian(header.AsSpan(10), (ushort)PreSkip);
        BinaryPrimitives.WriteInt32LittleEndian(header.AsSpan(12), _sampleRate);
        return header;
    }

    private void Resample(ReadOnlySpan<float> interleaved, long most)
    {
        while (!interleaved.IsEmpty)
        {
            var used = Math.Min(PieceFrames, interleaved.Length / _channels);
            var made = _resampled.Length / _channels;

            // The library does not change its input.
            var piece = System.Runtime.InteropServices.MemoryMarshal.CreateSpan(
                ref System.Runtime.InteropServices.MemoryMarshal.GetReference(interleaved), used * _channels);
            _resampler!.ProcessInterleaved(piece, ref used, _resampled, ref made);
            made = (int)Math.Min(made, most - _made);
            Encode(_resampled.AsSpan(0, made * _channels));
            interleaved = interleaved[(used * _channels)..];
        }
    }

    private void Encode(ReadOnlySpan<float> interleaved, long end = long.MaxValue)
    {
        _made += interleaved.Length / _channels;
        while (!interleaved.IsEmpty)
        {
            var taken = Math.Min(interleaved.Length, (PacketFrames - _filled) * _channels);
            for (var i = 0; i < taken; i++)
            {
                var sample = interleaved[i];
                _packet[(_filled * _channels) + i] = float.IsNaN(sample) ? 0 : Math.Clamp(sample, -1, 1);
            }

            _filled += taken / _channels;
            interleaved = interleaved[taken..];
            if (_filled == PacketFrames)
            {
                EncodePacket(end);
            }
        }
    }

    private void EncodePacket(long end)
    {
        var bytes = _encoder.Encode(_packet, PacketFrames, _coded, _coded.Length);
        if (_packetsOnPage == PacketsOfPage || !_pages.HasRoomFor(bytes))
        {
            _pages.EndPage(isLast: false);
            _packetsOnPage = 0;
        }

        _packets++;
        _packetsOnPage++;
        _filled = 0;
        _pages.Add(_coded.AsSpan(0, bytes), Math.Min(_packets * PacketFrames, end));
    }
}
