namespace GrooveLab.SameMusic.Outputs;

/// <summary>The kinds of compared outputs.</summary>
internal enum OutputKind
{
    /// <summary>A WAV file of <c>render</c>.</summary>
    Render,

    /// <summary>The WAV files of <c>render --stems</c>.</summary>
    Stems,

    /// <summary>The document of <c>show --json</c>.</summary>
    Json,

    /// <summary>The MIDI file of <c>export</c>.</summary>
    Midi,

    /// <summary>The MIDI file of <c>export --exact</c>.</summary>
    ExactMidi,

    /// <summary>The built-in sounds.</summary>
    Sounds,

    /// <summary>Scripted changes repeated by the current program.</summary>
    LiveChanges,

    /// <summary>The base's log of a performance, replayed by the current program.</summary>
    Replay,

    /// <summary>The logs of the two programs: frames, commands, bars.</summary>
    Log,
}
