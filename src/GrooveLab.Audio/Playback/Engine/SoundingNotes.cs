using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>A note that has been begun and not yet ended.</summary>
internal struct SoundingNote
{
    /// <summary>Its number, from 1; 0 for none.</summary>
    public long Note;

    /// <summary>The epoch that it belongs to.</summary>
    public int Epoch;

    /// <summary>The program on which it was begun.</summary>
    public int Program;
}

/// <summary>Which keys are down on which channel: the proof that none is left hanging.</summary>
internal sealed class SoundingNotes
{
    /// <summary>Keys on a channel.</summary>
    public const int Keys = 128;

    /// <summary>Places in the table.</summary>
    public const int Places = PartChannels.MostChannels * Keys;

    private readonly SoundingNote[] _notes = new SoundingNote[Places];

    /// <summary>How many are down.</summary>
    public int Count { get; private set; }

    /// <summary>What sounds there.</summary>
    public ref readonly SoundingNote At(int channel, int key) => ref _notes[(channel * Keys) + key];

    /// <summary>What sounds in a place of the table, from 0 up to, not including, <see cref="Places"/>.</summary>
    public ref readonly SoundingNote InPlace(int place) => ref _notes[place];

    /// <summary>Puts a note down, in place of what was there.</summary>
    public void Begin(int channel, int key, in SoundingNote note)
    {
        ref var place = ref _notes[(channel * Keys) + key];
        Count += place.Note == 0 ? 1 : 0;
        place = note;
    }

    /// <summary>Takes it off.</summary>
    public void End(int channel, int key)
    {
        ref var place = ref _notes[(channel * Keys) + key];
        Count -= place.Note == 0 ? 0 : 1;
        place = default;
    }
}
