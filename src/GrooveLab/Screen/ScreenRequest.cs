namespace GrooveLab.Screen;

/// <summary>What the player requests from the program.</summary>
internal enum ScreenRequest
{
    /// <summary>Nothing.</summary>
    None,

    /// <summary>End the program.</summary>
    Quit,

    /// <summary>Play another chart, <see cref="ScreenKeys.ChartToOpen"/>.</summary>
    Open,

    /// <summary>Show another song of the set, <see cref="ScreenKeys.SongToPlay"/>.</summary>
    Song,
}
