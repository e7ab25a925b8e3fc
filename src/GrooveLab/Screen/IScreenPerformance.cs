using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Performance;

namespace GrooveLab.Screen;

/// <summary>Whether a performance plays.</summary>
internal enum Standing
{
    /// <summary>Prepared, and not yet started.</summary>
    Ready,

    /// <summary>About to play.</summary>
    Starting,

    /// <summary>Playing; also while the last notes ring.</summary>
    Playing,

    /// <summary>Fading out.</summary>
    Stopping,

    /// <summary>Stopped by the player, or because the sound failed.</summary>
    Stopped,

    /// <summary>Played to its end.</summary>
    Ended,
}

/// <summary>The performance that the screen shows and changes.</summary>
internal interface IScreenPerformance
{
    /// <summary>Accepts the changes and holds the state.</summary>
    Conductor Conductor { get; }

    /// <summary>The place that is heard now.</summary>
    Playhead Heard { get; }

    /// <summary>The place that was heard some time ago.</summary>
    /// <param name="seconds">How long ago, at most a second.</param>
    Playhead HeardAgo(double seconds);

    /// <summary>Whether it plays.</summary>
    Standing Standing { get; }

    /// <summary>Fades out; <see cref="Begin"/> plays again.</summary>
    void Halt();

    /// <summary>Plays from a place on, with all changes; what still sounds fades out.</summary>
    /// <returns>What will be played, or why nothing will.</returns>
    ChangeAnswer Begin(StartPoint start);

    /// <summary>The engine's reports since the last call.</summary>
    IReadOnlyList<EngineReport> News();

    /// <summary>The problems of the music; the same instance until something changes.</summary>
    Health Health { get; }

    /// <summary>What its MIDI ports do, in a few words; empty without any.</summary>
    string Links => string.Empty;

    /// <summary>Saves the chart; null for its own file.</summary>
    /// <returns>What was done, or what failed.</returns>
    ChangeAnswer Save(string? path);

    /// <summary>Saves the chart over the file that the last save refused to replace.</summary>
    ChangeAnswer SaveAnyway();

    /// <summary>True if there are unsaved changes, also in the compared side that is not heard.</summary>
    bool IsUnsaved { get; }

    /// <summary>The compared side that is not heard and not saved; null for none.</summary>
    ComparedSide? UnsavedSide { get; }

    /// <summary>Keeps unsaved changes at once, so that the next start offers them.</summary>
    /// <returns>False if there are unsaved changes that could not be kept.</returns>
    bool KeepNow();

    /// <summary>After <see cref="KeepNow"/>: the changes, in words, without which the others were kept; empty if all or none were.</summary>
    IReadOnlyList<string> NotKept => [];

    /// <summary>Writes a saved version at once.</summary>
    /// <returns>Why it could not be written; null if it was.</returns>
    string? KeepVersionNow(string name);

    /// <summary>Deletes the offered unsaved changes of earlier sessions.</summary>
    ChangeAnswer Discard();
}
