using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>A note or controller step, ready for its frame. Places are those of the performance.</summary>
internal struct PreparedEvent
{
    /// <summary>True for a note, false for a controller step.</summary>
    public bool IsNote;

    /// <summary>True for a place on the grid of the MIDI clock, whose number is the value.</summary>
    public bool IsClock;

    /// <summary>Index of the part in the band.</summary>
    public int Part;

    /// <summary>The channel.</summary>
    public int Channel;

    /// <summary>The second channel for a controller step; the same if there is only one.</summary>
    public int OtherChannel;

    /// <summary>The key, or the controller number.</summary>
    public int Key;

    /// <summary>The velocity, or the controller value.</summary>
    public int Value;

    /// <summary>The place of its start.</summary>
    public Position At;

    /// <summary>The place of the note's end.</summary>
    public Position Until;

    /// <summary>The offset of its start from its place, in frames; may be negative.</summary>
    public int Offset;

    /// <summary>The offset of its end from its place, in frames; may be negative.</summary>
    public int EndOffset;

    /// <summary>For a held note: whether it starts here if it is not yet sounding.</summary>
    public bool BeginsAnew;
}

/// <summary>
/// A bar as the audio thread receives it: flat, with channels assigned and places in the time of the performance. Created and filled
/// on the composer thread, passed to the audio thread through <see cref="BarQueue"/>, and returned to be filled again.
/// </summary>
internal sealed class PreparedBar
{
    private PreparedEvent[] _events = new PreparedEvent[256];
    private PreparedEvent[] _held = new PreparedEvent[16];
    private (Position At, Tempo Tempo)[] _tempi = new (Position, Tempo)[32];
    private int _eventCount;
    private int _heldCount;
    private int _tempoCount;

    /// <summary>The number of the bar in the performance, from 0: counted as played, whatever its number in the form.</summary>
    public int Ordinal { get; set; }

    /// <summary>The plan of the performance; a structural change begins a new one.</summary>
    public int Epoch { get; set; }

    /// <summary>The first bar of its epoch.</summary>
    public bool OpensEpoch { get; set; }

    /// <summary>True if it is not a bar but the end of the music.</summary>
    public bool IsEnd { get; set; }

    /// <summary>The bar itself; null for the end.</summary>
    public Bar? Bar { get; set; }

    /// <summary>Its bar line in the time of the performance, which increases from the first bar whatever is repeated or skipped.</summary>
    public Position Base { get; set; }

    /// <summary>The next bar line.</summary>
    public Position End { get; set; }

    /// <summary>How many frames before its bar line the audio thread needs it.</summary>
    public int LeadFrames { get; set; }

    /// <summary>The band from this bar on; null if it is the same as before.</summary>
    public MixedPart[]? Band { get; set; }

    /// <summary>The notes and controller steps, by place.</summary>
    public ReadOnlySpan<PreparedEvent> Events => _events.AsSpan(0, _eventCount);

    /// <summary>In the first bar of an epoch: the notes of earlier bars on the same route that sound at its bar line.</summary>
    public ReadOnlySpan<PreparedEvent> Held => _held.AsSpan(0, _heldCount);

    /// <summary>The written tempi in it.</summary>
    public ReadOnlySpan<(Position At, Tempo Tempo)> Tempi => _tempi.AsSpan(0, _tempoCount);

    /// <summary>Clears it for its next use.</summary>
    public void Clear()
    {
        _eventCount = _heldCount = _tempoCount = 0;
        OpensEpoch = false;
        IsEnd = false;
        Bar = null;
        Band = null;
    }

    /// <summary>Adds a note or controller step.</summary>
    public void Add(in PreparedEvent item) => Append(ref _events, ref _eventCount, item);

    /// <summary>Adds a held note.</summary>
    public void AddHeld(in PreparedEvent item) => Append(ref _held, ref _heldCount, item);

    /// <summary>Adds a tempo.</summary>
    public void AddTempo(Position at, Tempo tempo) => Append(ref _tempi, ref _tempoCount, (at, tempo));

    private static void Append<T>(ref T[] items, ref int count, in T item)
    {
        if (count == items.Length)
        {
#pragma warning disable RS0030 // The composer thread fills it; the audio thread only reads.
            Array.Resize(ref items, 2 * count);
#pragma warning restore RS0030
        }

        items[count++] = item;
    }
}

/// <summary>A part of the mix, as the audio thread needs it. Immutable.</summary>
internal sealed class MixedPart(PartChannels channels, bool playing)
{
    /// <summary>The part's name.</summary>
    public string Name { get; } = channels.Name;

    /// <summary>Whether it plays in this performance.</summary>
    public bool Playing { get; } = playing;

    /// <summary>Channel of open notes.</summary>
    public int Channel { get; } = channels.Channel;

    /// <summary>Channel of damped notes.</summary>
    public int DampedChannel { get; } = channels.DampedChannel;

    /// <summary>Program of open notes; percussion's kit is 0.</summary>
    public int Program { get; } = channels.Channel == PartChannels.PercussionChannel ? 0 : channels.Instrument.Program;

    /// <summary>Program of damped notes.</summary>
    public int DampedProgram { get; } = channels.DampedChannel == PartChannels.PercussionChannel
        ? 0
        : channels.Instrument.DampedProgram ?? channels.Instrument.Program;

    /// <summary>Level in dB.</summary>
    public double LevelDecibels { get; } = channels.LevelDecibels;

    /// <summary>-100 left to 100 right.</summary>
    public int Pan { get; } = channels.Pan;
}
