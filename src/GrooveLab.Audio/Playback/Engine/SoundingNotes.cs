using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>A sounding note.</summary>
internal struct SoundingNote
{
    /// <summary>Its number, from 1; 0 for none.</summary>
    public long Note;

    /// <summary>The epoch to which it belongs.</summary>
    public int Epoch;

    /// <summary>The program on which it started.</summary>
    public int Program;
}

/// <summary>The sounding keys of each channel; shows that no note is left hanging.</summary>
internal sealed class SoundingNotes
{
    /// <summary>The number of keys on a channel.</summary>
    public const int Keys = 128;

    /// <summary>The size of the table.</summary>
    public const int Places = PartChannels.MostChannels * Keys;

    private readonly SoundingNote[] _notes = new SoundingNote[Places];

    /// <summary>The number of sounding notes.</summary>
    public int Count { get; private set; }

    /// <summary>The note sounding on a key.</summary>
    public ref readonly SoundingNote At(int channel, int key) => ref _notes[(channel * Keys) + key];

    /// <summary>The note in an entry of the table, from 0 to below <see cref="Places"/>.</summary>
    public ref readonly SoundingNote InPlace(int place) => ref _notes[place];

    /// <summary>Adds a note, replacing any note on its key.</summary>
    public void Begin(int channel, int key, in SoundingNote note)
    {
        ref var place = ref _notes[(channel * Keys) + key];
        Count += place.Note == 0 ? 1 : 0;
        place = note;
    }

    /// <summary>Removes a note.</summary>
    public void End(int channel, int key)
    {
        ref var place = ref _notes[(channel * Keys) + key];
        Count -= place.Note == 0 ? 0 : 1;
        place = default;
    }
}
