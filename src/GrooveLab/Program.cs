using GrooveLab.Commands;
using GrooveLab.Screen;

if (LiveProgram.IsAskedFor(args))
{
    LiveProgram.Prepare();
}

return CommandLine.Run(args);
